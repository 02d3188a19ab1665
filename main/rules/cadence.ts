import type { Frame } from '../contract/index.ts'

/** Readout and download of one frame, s, where tonight has not shown it yet: common practice, no source. */
export const defaultReadoutS = 3

export const startMs = (frame: Frame) => Date.parse(frame.startedAt ?? '')
export const endMs = (frame: Frame) => startMs(frame) + (frame.exposureS ?? 0) * 1000

/** Frames that have a start, in order of it. */
export const inTime = (frames: readonly Frame[]): Frame[] =>
  frames.filter((f) => !Number.isNaN(startMs(f))).sort((a, b) => startMs(a) - startMs(b) || a.id - b.id)

/**
 * Seconds between the end of one exposure and the start of the next, as this night's frames of one rig show it: the lower
 * quartile, since dithering, focusing and flips only ever add. Null below four pauses.
 */
export function learnedReadoutS(frames: readonly Frame[]): number | null {
  const pauses = pausesS(frames).sort((a, b) => a - b)
  if (pauses.length < 4) return null
  const quartile = pauses[Math.floor(pauses.length / 4)]
  return Math.min(60, Math.max(0, Math.round(quartile * 10) / 10))
}

/** From the end of each exposure to the start of the next, s. Overlaps (a header's rounding) count as 0. */
function pausesS(frames: readonly Frame[]): number[] {
  const sorted = inTime(frames)
  return sorted.slice(1).map((frame, i) => Math.max(0, (startMs(frame) - endMs(sorted[i])) / 1000))
}

/** Longest time between two frames landing, s; 0 for fewer than two frames. */
export function longestWaitS(frames: readonly Frame[]): number {
  const ends = inTime(frames).map(endMs)
  return ends.slice(1).reduce((longest, end, i) => Math.max(longest, (end - ends[i]) / 1000), 0)
}
