import type { Frame, Master, Settings } from '../contract/index.ts'
import { compareField, keyValue } from '../frame/keys.ts'
import { obtain, onceFor } from '../match/memo.ts'
import type { NightView } from './view.ts'

/** Exposure to begin a row of flats with, s, and where it comes from. Null where nothing tells. */
export interface Suggestion {
  exposureS: number | null
  because: string
}

/**
 * The exposure of the newest flats of that filter at the same camera, gain and binning, tonight's raw ones first: the panel is
 * then as bright as it was. Never below the floor of the sensor's class, which is also what to begin with where there are none.
 */
export function suggestFlatExposure(sample: Frame, view: NightView): Suggestion {
  const floorS = view.rulesOf(sample).floorS.value
  const earlier = newestEarlier(sample, view)
  if (earlier !== null && earlier >= floorS) return { exposureS: earlier, because: 'as the last flats of this filter' }
  if (floorS > 0) {
    const because =
      earlier === null ? 'the shortest this sensor takes' : 'the last ones were shorter: too short for this sensor'
    return { exposureS: floorS, because: `${because}; set the panel to it` }
  }
  return { exposureS: null, because: 'no earlier flats of this filter: find the exposure that gives the level' }
}

function newestEarlier(sample: Frame, view: NightView): number | null {
  let newest: { atMs: number; exposureS: number } | null = null
  const consider = (flat: Settings & { kind: string }, at: string | null) => {
    if (flat.kind !== 'flat' || flat.exposureS === null || !isAlike(flat, sample)) return
    const { exposureS } = flat
    const atMs = Date.parse(at ?? '') || 0
    // Of two of one moment the longer one: the order of the library decides nothing.
    if (!newest || atMs > newest.atMs || (atMs === newest.atMs && exposureS > newest.exposureS))
      newest = { atMs, exposureS }
  }
  for (const master of flatsBySettings(view.state.masters).get(settingsKey(sample)) ?? [])
    consider(master, master.madeAt)
  for (const raw of view.state.match.raw ?? []) consider(raw, raw.lastAt)
  return (newest as { exposureS: number } | null)?.exposureS ?? null
}

const settingsKey = (s: Settings) =>
  [s.filter, s.gain, s.binning, s.readout, s.camera].map((value) => keyValue(value) ?? '\u0000').join('\u001f')

const flatsBySettings = onceFor((masters: readonly Master[]): ReadonlyMap<string, Master[]> => {
  const bySettings = new Map<string, Master[]>()
  for (const master of masters)
    if (master.kind === 'flat') obtain(bySettings, settingsKey(master), () => []).push(master)
  return bySettings
})

const isAlike = (flat: Settings, light: Settings) =>
  settingsKey(flat) === settingsKey(light) &&
  (flat.rig === null || light.rig === null || compareField(flat.rig, light.rig) === 'equal')
