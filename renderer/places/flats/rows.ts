import type { Master, Rig, Run, RunVerdict, Shortfall, TrainChange } from '../../../main/contract/index.ts'

/** One rig (or train), filter and binning: the newest flat of it, what touched it since, the flats that are being shot, and for whom. */
export interface FlatRow {
  id: string
  rig: string | null
  train: string | null
  filter: string | null
  binning: string | null
  /** The newest flat on the shelf; null where only raw ones are there. */
  flat: Master | null
  older: number
  /** The newest change after the flat was taken and after it was last proven; null: it is of the train as it stands. */
  touchedBy: TrainChange | null
  /** Raw flats of the newest night, the last run first. */
  runs: Run[]
  /** What the lights of the newest night have of it: verdict and reason, with the number of lights. */
  lights: { verdict: RunVerdict; frames: number }[]
}

type Standing = Pick<Master | Run, 'rig' | 'train' | 'telescope' | 'filter' | 'binning'>

/** With one rig, what names none was shot with that one. */
const rigOf = (of: Standing, rigs: readonly Rig[]) => of.rig ?? (rigs.length === 1 ? rigs[0]!.name : null)
const placeOf = (of: Standing, rigs: readonly Rig[]) => rigOf(of, rigs) ?? of.train ?? of.telescope ?? ''
const keyOf = (of: Standing, rigs: readonly Rig[]) =>
  `${placeOf(of, rigs)}/${(of.filter ?? '').toLowerCase()}/${of.binning ?? ''}`

/** Whether a change ends a flat's time: of its rig, not taken back, and of all filters or of its own. */
export function touches(change: TrainChange, rig: string | null, filter: string | null): boolean {
  if (change.undoneAt || (rig !== null && change.rig !== rig)) return false
  return change.scope !== 'filter' || change.filter === null || change.filter === filter
}

/** The newest change since a flat was last known to be a picture of the train. */
export function touchedSince(
  flat: Pick<Master, 'madeAt' | 'provenAt' | 'filter'>,
  rig: string | null,
  changes: readonly TrainChange[],
): TrainChange | null {
  const lastMs = Math.max(...[flat.madeAt, flat.provenAt].map((at) => (at ? Date.parse(at) : -Infinity)))
  const later = changes.filter((change) => touches(change, rig, flat.filter) && Date.parse(change.at) > lastMs)
  return later.toSorted((a, b) => b.at.localeCompare(a.at))[0] ?? null
}

/** One row a rig, filter and binning, rigs together, filters by name: whatever has a flat, is a flat, or is a light that needs one. */
export function flatRows(
  masters: readonly Master[],
  changes: readonly TrainChange[],
  runs: readonly Run[],
  rigs: readonly Rig[],
  lights: readonly Run[] = [],
): FlatRow[] {
  const flats = masters
    .filter(({ kind, state }) => kind === 'flat' && state !== 'retired')
    .toSorted((a, b) => (b.madeAt ?? '').localeCompare(a.madeAt ?? '') || b.id - a.id)
  const keys = [...new Set([...flats, ...runs, ...lights].map((one) => keyOf(one, rigs)))].toSorted()
  return keys.map((key) => {
    const own = flats.filter((flat) => keyOf(flat, rigs) === key)
    const shot = runs
      .filter((run) => keyOf(run, rigs) === key)
      .toSorted((a, b) => (b.lastAt ?? '').localeCompare(a.lastAt ?? ''))
    const waiting = lights.filter((run) => keyOf(run, rigs) === key)
    const any = own[0] ?? shot[0] ?? waiting[0]!
    const rig = rigOf(any, rigs)
    return {
      id: key,
      rig,
      train: any.train ?? any.telescope,
      filter: any.filter,
      binning: any.binning,
      flat: own[0] ?? null,
      older: Math.max(0, own.length - 1),
      touchedBy: own[0] ? touchedSince(own[0], rig, changes) : null,
      runs: shot,
      lights: verdictsOf(waiting),
    }
  })
}

/** Runs of one verdict for one reason are told together. */
const verdictsOf = (lights: readonly Run[]): FlatRow['lights'] =>
  [...Map.groupBy(lights, ({ verdicts: { flat } }) => `${flat!.verdict} ${flat!.text}`).values()].map((same) => ({
    verdict: same[0]!.verdicts.flat!,
    frames: same.reduce((sum, run) => sum + run.frames, 0),
  }))

const asked = ['camera', 'body', 'gain', 'offset', 'readout', 'binning', 'setTempC'] as const

/** The row of what is still to be shot that a run of flats waits for: dark flats of its own exposure and settings. */
export const darkFlatsFor = (run: Run, shortfall: readonly Shortfall[]): Shortfall | null =>
  shortfall.find(
    ({ kind, settings }) =>
      kind === 'darkFlat' &&
      settings.exposureS === run.exposureS &&
      asked.every((field) => settings[field] === undefined || settings[field] === run[field]),
  ) ?? null
