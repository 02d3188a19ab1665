import type { Settings } from '../contract/index.ts'
import { defaultTolerances } from '../contract/index.ts'

/**
 * Groups of frames by a setting that has a tolerance. Values are sorted first, so the order of the input never matters.
 * Frames that do not know the setting make a group of their own.
 */

/** Exposures within 0.1 % or 10 ms (whichever is more) of the shortest of their group. */
export function clusterExposures<F extends Settings>(frames: readonly F[]): F[][] {
  const { exposureFraction, exposureS } = defaultTolerances
  return cluster(frames, 'exposureS', (from, _before, value) => {
    const slack = Math.max(exposureS, from * exposureFraction)
    return value - from <= slack * (1 + 1e-9)
  })
}

/** Values that follow each other with no gap wider than `gap`. */
export function clusterByGap<F extends Settings>(
  frames: readonly F[],
  field: 'sensorTempC' | 'mechAngleDeg',
  gap: number,
): F[][] {
  return cluster(frames, field, (_from, before, value) => value - before <= gap)
}

/** Mechanical angles with no gap wider than the tolerance, also over 360° → 0°. */
export function clusterAngles<F extends Settings>(frames: readonly F[]): F[][] {
  const { angleDeg } = defaultTolerances
  const groups = clusterByGap(frames, 'mechAngleDeg', angleDeg)
  const known = groups.filter((group) => group[0].mechAngleDeg !== null)
  if (known.length < 2) return groups
  const first = known[0]
  const last = known[known.length - 1]
  const least = Math.min(...first.map((f) => f.mechAngleDeg ?? 0))
  const most = Math.max(...last.map((f) => f.mechAngleDeg ?? 0))
  if (least + 360 - most > angleDeg) return groups
  return [...groups.filter((group) => group !== first && group !== last), [...last, ...first]]
}

function cluster<F extends Settings>(
  frames: readonly F[],
  field: 'exposureS' | 'sensorTempC' | 'mechAngleDeg',
  belongs: (from: number, before: number, value: number) => boolean,
): F[][] {
  const valueOf = (frame: F) => frame[field] as number
  const unknown = frames.filter((frame) => frame[field] === null)
  const known = frames.filter((frame) => frame[field] !== null).sort((a, b) => valueOf(a) - valueOf(b))
  const groups: F[][] = unknown.length ? [unknown] : []
  let group: F[] | null = null
  for (const frame of known) {
    if (group && belongs(valueOf(group[0]), valueOf(group[group.length - 1]), valueOf(frame))) group.push(frame)
    else groups.push((group = [frame]))
  }
  return groups
}
