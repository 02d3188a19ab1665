import type { Frame, Settings } from '../contract/index.ts'
import { compareField } from '../frame/keys.ts'
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
  const masters = view.state.masters.filter((m) => m.kind === 'flat').map((m) => ({ ...m, at: m.madeAt }))
  const raw = (view.state.match.raw ?? []).filter((r) => r.kind === 'flat').map((r) => ({ ...r, at: r.lastAt }))
  const alike = [...masters, ...raw]
    .filter((flat) => flat.exposureS !== null && isAlike(flat, sample))
    .sort(
      (a, b) =>
        (Date.parse(b.at ?? '') || 0) - (Date.parse(a.at ?? '') || 0) || (b.exposureS ?? 0) - (a.exposureS ?? 0),
    )
  return alike[0]?.exposureS ?? null
}

const isAlike = (flat: Settings, light: Settings) =>
  (['camera', 'binning', 'readout', 'filter', 'gain'] as const).every(
    (f) => compareField(flat[f], light[f]) === 'equal',
  ) &&
  (flat.rig === null || light.rig === null || compareField(flat.rig, light.rig) === 'equal')
