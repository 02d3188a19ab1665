import type { Difference, Master, Settings } from '../contract/index.ts'
import { compareField, flatKey, keyValue } from '../frame/keys.ts'
import { agreeForFlat, difference, restate, type Agreement } from './agreement.ts'
import type { MatchContext, Proof } from './context.ts'
import { notes } from './darks.ts'
import type { Epoch, Epochs } from './epochs.ts'
import { compareOrder, fitOf, fitWords, MATCHED, openQuestions, UNFIT, type Finding, type Fit } from './finding.ts'
import { onceFor } from './memo.ts'
import { temperatureField, temperatureOf, turnDeg } from './tolerance.ts'

/** Flats that agree in everything but their date and the rotator's angle. */
interface Group {
  sample: Master
  masters: Entry[]
}

interface Entry {
  master: Master
  madeMs: number
  /** When check frames that held were taken (ms). */
  proofsMs: number[]
  frames: number
  open: number
}

interface Place {
  entry: Entry
  side: Side
  order: number[]
}

interface Side extends Agreement {
  group: Group
  /** Gain and offset, where the sensor rules want them equal: a difference in them is only `near`. */
  soft: Difference[]
}

/** @returns what the shelf has for a light taken in this epoch; `nightMs`: the middle of its night */
export type FindFlat = (light: Settings, epoch: Epoch, nightMs: number) => Finding

/**
 * A flat is a picture of the train, valid for every light of its epoch, before it or after it. One of another epoch was never
 * seen to fit this one until a check frame held: then what lay between the flat and the check is covered.
 */
export function createFlatShelf(masters: readonly Master[], context: MatchContext, epochs: Epochs): FindFlat {
  const twins = new Set(context.twins ?? [])
  const groups = context.proofs?.length ? groupMasters(masters, context.proofs) : groupUnproven(masters)
  const sides = new Map<string, Side[]>()
  const sidesOf = (light: Settings): Side[] => {
    const key = groupKey(light)
    let known = sides.get(key)
    if (!known) sides.set(key, (known = groups.map((group) => sideOf(light, group, twins, context)).sort(byFaults)))
    return known
  }
  return (light, epoch, nightMs) => {
    const request: Request = { light, epoch, nightMs, context, epochs }
    return findFitting(request, sidesOf(light)) ?? findNearest(request, sidesOf(light))
  }
}

interface Request {
  light: Settings
  epoch: Epoch
  nightMs: number
  context: MatchContext
  epochs: Epochs
}

const faults = (side: Side) => side.differs.length + side.unknown.length + side.soft.length
const byFaults = (a: Side, b: Side) => faults(a) - faults(b)

const groupKey = (s: Settings) =>
  flatKey(s) + [s.rig, s.telescope, s.focalMm, s.gain, s.offset].map(keyValue).join('\u001f')

function groupMasters(masters: readonly Master[], known: readonly Proof[]): Group[] {
  const groups = new Map<string, Group>()
  for (const master of masters) {
    if (master.state !== 'ready' || master.kind !== 'flat') continue
    const key = groupKey(master)
    const group = groups.get(key) ?? { sample: master, masters: [] }
    groups.set(key, group)
    const proofs = known.filter((p) => p.master === master.id).map((p) => p.at)
    group.masters.push({
      master,
      madeMs: Date.parse(master.madeAt ?? ''),
      proofsMs: [...proofs, master.provenAt ?? ''].map((at) => Date.parse(at)).filter((ms) => !Number.isNaN(ms)),
      frames: master.frames ?? 0,
      open: openQuestions(master).length,
    })
  }
  return [...groups.values()]
}

/** With no more proofs than the masters themselves tell of. */
const groupUnproven = onceFor((masters: readonly Master[]) => groupMasters(masters, []))

function sideOf(light: Settings, group: Group, twins: ReadonlySet<string>, context: MatchContext): Side {
  const side: Side = { group, soft: [], ...agreeForFlat(light, group.sample, twins) }
  if (!context.sensorRules(light.camera).flatNeedsSameGain.value) return side
  for (const field of ['gain', 'offset'] as const) {
    const answer = compareField(light[field], group.sample[field])
    if (answer === 'differs') side.soft.push(difference(field, light, group.sample))
    if (answer === 'unconfirmed') side.unknown.push(difference(field, light, group.sample))
  }
  return side
}

function findFitting(request: Request, sides: readonly Side[]): Finding | null {
  let best: (Place & { fit: Fit }) | null = null
  for (const side of sides) {
    if (side.differs.length) continue
    for (const entry of side.group.masters) {
      const fit = weigh(request, side, entry)
      if (fit === UNFIT || (best && fit > best.fit)) continue
      const inTheWay = fit === MATCHED ? 0 : faults(side) + entry.open + extraCount(request, entry)
      const order = [inTheWay, ...orderOf(request, entry)]
      if (!best || fit < best.fit || compareOrder(order, best.order) < 0) best = { entry, side, order, fit }
    }
  }
  if (!best) return null
  const { master } = best.entry
  const differences =
    best.fit === MATCHED ? flatNotes(request, master) : [...allDifferences(request, best), ...openQuestions(master)]
  return { word: fitWords[best.fit], master, differences }
}

function weigh(request: Request, side: Side, entry: Entry): Fit {
  const angle = standingInAngle(request, entry.master)
  const epoch = standingInEpoch(request, entry)
  if (angle === 'differs' || epoch === 'later') return UNFIT
  const off = side.soft.length + (epoch === 'earlier' ? 1 : 0)
  const unknown = side.unknown.length + (angle === 'unknown' ? 1 : 0) + (epoch === 'unknown' ? 1 : 0)
  return fitOf(off, unknown, entry.open)
}

/** A rotator's angle chooses another flat: it is equal or it is not. */
function standingInAngle({ light, context }: Request, master: Master): 'equal' | 'differs' | 'unknown' {
  if (light.mechAngleDeg === null && master.mechAngleDeg === null) return 'equal'
  if (light.mechAngleDeg === null || master.mechAngleDeg === null) return 'unknown'
  return turnDeg(light.mechAngleDeg, master.mechAngleDeg) <= context.tolerances.angleDeg + 1e-9 ? 'equal' : 'differs'
}

/**
 * `own`: of this epoch, or held by a check frame so that the stretch from flat to check touches it (a picture that holds before
 * and after a night held during it). A later flat that no check ties to this epoch covers nothing before it.
 */
function standingInEpoch({ epoch }: Request, entry: Entry): 'own' | 'earlier' | 'later' | 'unknown' {
  if (epoch.begunBy === null && epoch.endedBy === null) return 'own'
  const { madeMs, proofsMs } = entry
  if (Number.isNaN(madeMs)) return 'unknown'
  if (madeMs < epoch.sinceMs) return proofsMs.some((ms) => ms >= epoch.sinceMs) ? 'own' : 'earlier'
  if (madeMs >= epoch.untilMs) return proofsMs.some((ms) => ms < epoch.untilMs) ? 'own' : 'later'
  return 'own'
}

function epochDifference({ light, epoch, epochs }: Request, { master, madeMs }: Entry): Difference {
  // A master from elsewhere has no rig: it is held against the changes of the rig that asks.
  const its = epochs.at(master.rig ?? light.rig, light.filter, madeMs)
  return { field: 'epoch', light: epoch.id, master: its.id }
}

function flatNotes(request: Request, master: Master): Difference[] {
  const { light, context } = request
  const all = notes(light, master)
  // Half the trade divides by flats that had a bias taken off, so it does not block; glow sensors deserve to be told.
  if (master.subtracted === 'bias' && !context.sensorRules(light.camera).biasAllowed.value)
    all.push({ field: 'subtracted', light: 'darkFlat', master: 'bias' })
  return all
}

/** The temperature beyond which a matched flat's is noted; it is no part of the key. */
export function temperatureNote(light: Settings, master: Master | null, context: MatchContext): Difference[] {
  if (!master) return []
  const [a, b] = [temperatureOf(light), temperatureOf(master)]
  if (a === null || b === null || Math.abs(a - b) <= context.tolerances.flatTempNoteC) return []
  return [{ field: temperatureField(light, master), light: a, master: b }]
}

const dayMs = 86_400_000

/**
 * Angle, nearest in time, frames. Angles are told apart to 0.1°, time by whole days from the middle of the light's night:
 * dusk and dawn flats of one night are equally near, so that one run is not torn between two flats.
 */
function orderOf({ light, nightMs }: Request, { master, madeMs, frames }: Entry): number[] {
  const turn =
    light.mechAngleDeg === null || master.mechAngleDeg === null ? 0 : turnDeg(light.mechAngleDeg, master.mechAngleDeg)
  const days = Number.isNaN(madeMs) ? Infinity : Math.floor(Math.abs(madeMs - nightMs) / dayMs)
  return [
    Math.round(turn * 10),
    days,
    -frames,
    master.provenAt === null ? 1 : 0,
    Number.isNaN(madeMs) ? Infinity : -madeMs,
    master.id,
  ]
}

/** The flat to name where none fits: of the same camera, with the fewest fields that do not agree, then by the order above. */
function findNearest(request: Request, sides: readonly Side[]): Finding {
  let best: Place | null = null
  for (const side of sides) {
    if (best && faults(side) > best.order[0]) break
    if (side.differs.some((d) => d.field === 'camera' || d.field === 'body')) continue
    for (const entry of side.group.masters) {
      const off = faults(side) + extraCount(request, entry)
      if (best && off > best.order[0]) continue
      const order = [off, ...orderOf(request, entry)]
      if (!best || compareOrder(order, best.order) < 0) best = { entry, side, order }
    }
  }
  if (!best) return { word: null, master: null, differences: [] }
  return { word: null, master: best.entry.master, differences: allDifferences(request, best) }
}

const allDifferences = (request: Request, { side, entry }: Place): Difference[] => [
  ...restate([...side.differs, ...side.soft], request.light, entry.master),
  ...extraDifferences(request, entry),
  ...restate(side.unknown, request.light, entry.master),
]

const extraCount = (request: Request, entry: Entry) =>
  (standingInAngle(request, entry.master) === 'equal' ? 0 : 1) + (standingInEpoch(request, entry) === 'own' ? 0 : 1)

/** What a group has in common does not tell: angle and epoch. */
function extraDifferences(request: Request, entry: Entry): Difference[] {
  const { light, epoch } = request
  const extra: Difference[] = []
  if (standingInAngle(request, entry.master) !== 'equal') extra.push(difference('mechAngleDeg', light, entry.master))
  const standing = standingInEpoch(request, entry)
  if (standing === 'unknown') extra.push({ field: 'madeAt', light: epoch.id, master: null })
  else if (standing !== 'own') extra.push(epochDifference(request, entry))
  return extra
}
