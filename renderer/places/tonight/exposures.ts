import type { Run } from '../../../main/contract/index.ts'
import { percentAt, type Axis } from './strip.ts'

/** The single exposures of runs on the strip, and the stretches without any. */

const MINUTE = 60_000
/** A pause shorter than this is focusing, a flip of the mount or a download; nobody wants it marked. */
const LEAST_GAP_MS = 10 * MINUTE

/** Start and end of each exposure of a run, ms, in order. Where the engine gave no single times: the run as one. */
export function exposuresOf(run: Run): Axis[] {
  if (!run.firstAt) return []
  const first = Date.parse(run.firstAt)
  const exposureMs = (run.exposureS ?? 0) * 1000
  const starts = run.startsS?.filter((start) => start !== null).map((start) => first + start * 1000)
  if (!starts?.length) return [{ from: first, to: Date.parse(run.lastAt ?? run.firstAt) + exposureMs }]
  return starts.toSorted((a, b) => a - b).map((from) => ({ from, to: from + exposureMs }))
}

/** Room between two exposures that the eye can still part, px. */
const LEAST_PART_PX = 1.5
const LEAST_BAR_PX = 2.5

/**
 * The path of a lane's bar: one rectangle an exposure where there is room to see them apart, joined ones where not. Only
 * what lies in the view; `heightPx` from the top.
 */
export function barPath(exposures: readonly Axis[], view: Axis, widthPx: number, heightPx: number): string {
  const scale = widthPx / (view.to - view.from)
  let path = ''
  let left = NaN
  let right = NaN
  const draw = () => {
    if (Number.isNaN(left)) return
    const width = Math.max(LEAST_BAR_PX, right - left)
    path += `M${left.toFixed(1)} 0h${width.toFixed(1)}v${heightPx}h-${width.toFixed(1)}z`
  }
  for (const { from, to } of exposures) {
    if (to < view.from || from > view.to) continue
    const start = Math.max(0, (from - view.from) * scale)
    const end = Math.min(widthPx, (to - view.from) * scale)
    if (start - right < LEAST_PART_PX) right = Math.max(right, end)
    else {
      draw()
      left = start
      right = end
    }
  }
  draw()
  return path
}

/** A stretch of the night in which a rig took no frame at all, though it did before and after. */
export interface Gap extends Axis {
  rig: string | null
}

/** Gaps of each rig within the axis, by time. Any frame ends a gap, aside ones too: the rig was at work. */
export function gapsOf(runs: readonly Run[], axis: Axis): Gap[] {
  const rigs = Map.groupBy(runs, ({ rig }) => rig)
  const gaps = [...rigs].flatMap(([rig, own]) => {
    const exposures = own.flatMap(exposuresOf).sort((a, b) => a.from - b.from)
    const found: Gap[] = []
    let last = NaN
    for (const { from, to } of exposures) {
      if (from - last >= LEAST_GAP_MS && from <= axis.to && last >= axis.from) found.push({ rig, from: last, to: from })
      last = Number.isNaN(last) ? to : Math.max(last, to)
    }
    return found
  })
  return gaps.sort((a, b) => a.from - b.from)
}

const LETTER_PX = 8

/** Which labels have room, each from its gap's own left end to where the next one begins (or the view ends). */
export function roomForLabels(
  gaps: readonly Axis[],
  labels: readonly string[],
  view: Axis,
  widthPx: number,
): boolean[] {
  const x = (instant: number) => (percentAt(view, instant) * widthPx) / 100
  let free = 0
  return gaps.map((gap, index) => {
    const needed = labels[index]!.length * LETTER_PX
    const start = Math.max(free, x(gap.from))
    const fits = start <= x(gap.to) && start + needed <= widthPx
    if (fits) free = start + needed
    return fits
  })
}
