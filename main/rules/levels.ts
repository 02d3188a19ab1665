import type { Figures, Frame, Master } from '../contract/index.ts'
import { compareField, darkFields, darkKey } from '../frame/keys.ts'
import { darksByKey } from '../match/dark-groups.ts'
import type { JudgedRun } from './judged-runs.ts'
import type { NightView } from './view.ts'

export type Measured = Frame & { figures: Figures }
export const isMeasured = (frame: Frame): frame is Measured => frame.figures !== null

export function median(values: readonly number[]): number {
  const sorted = [...values].sort((a, b) => a - b)
  return sorted.length ? (sorted[(sorted.length - 1) >> 1] + sorted[sorted.length >> 1]) / 2 : NaN
}

/** Full scales of 12-, 14- and 16-bit converters, ADU. */
const fullScales = [4095, 16_383, 65_535]

/**
 * Full scale of a camera's data, ADU: the smallest that holds the brightest pixel of the night. Unscaled 12- and 14-bit data are
 * recognised that way as soon as one star, or a hot pixel, is in any frame; flats alone might be dim ones of a deeper camera, and
 * then nothing is said against them.
 */
export function fullScaleOf(camera: string | null, view: NightView): number {
  let brightest = 0
  for (const frame of view.state.frames)
    if (frame.camera === camera && frame.figures) brightest = Math.max(brightest, frame.figures.max)
  return fullScaleFor(brightest)
}

/** The smallest full scale that holds this level, ADU. */
export const fullScaleFor = (brightest: number): number => fullScales.find((scale) => scale >= brightest) ?? brightest

/**
 * Black level of a run of flats, ADU: its dark flat's, or that of tonight's darks of the same settings, or of the shelf's; 0 where
 * nothing tells.
 */
export function pedestalOf({ run }: JudgedRun, view: NightView): number {
  const master = view.masters.get(run.verdicts.darkFlat?.master ?? -1)
  if (master?.figures && master.scale !== 'unit') return master.figures.median
  const tells = (f: Frame) =>
    f.kind !== 'flat' &&
    f.kind !== 'light' &&
    f.kind !== 'unknown' &&
    f.figures !== null &&
    darkFields.every((field) => compareField(run[field], f[field]) === 'equal')
  const tonights = shortest(view.state.frames.filter(tells))
  const shelfs = () =>
    shortest(
      (darksByKey(view.state.masters).get(darkKey(run)) ?? []).filter(
        (m) => m.scale !== 'unit' && m.state !== 'damaged' && m.figures !== null,
      ),
    )
  return (tonights ?? shelfs())?.figures?.median ?? 0
}

/** The shortest ones hold the least dark current. */
const shortest = <T extends Frame | Master>(darks: T[]): T | undefined =>
  darks.sort((a, b) => (a.exposureS ?? 0) - (b.exposureS ?? 0))[0]
