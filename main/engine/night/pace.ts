import { statfsSync } from 'node:fs'
import { dirname } from 'node:path'
import type { Frame } from '../../contract/index.ts'

const HOUR_MS = 3_600_000
/** After a pause of this many usual intervals nobody expects the next frame any more. */
const PATIENCE = 3

interface Timed {
  startMs: number
  exposureMs: number
}

const timed = (frames: readonly Frame[]): Timed[] =>
  frames
    .flatMap((frame) => {
      const startMs = Date.parse(frame.startedAt ?? '')
      return Number.isNaN(startMs) ? [] : [{ startMs, exposureMs: (frame.exposureS ?? 0) * 1000 }]
    })
    .sort((a, b) => a.startMs - b.startMs)

/**
 * When the next frame should land, by the last frame's own pace: its start, the usual pause between starts, and its exposure.
 * Null without two frames of one length in a row, or when it is overdue by far.
 */
export function nextFrameAt(frames: readonly Frame[], now: Date): string | null {
  const all = timed(frames)
  const last = all.at(-1)
  if (!last) return null
  const intervals: number[] = []
  for (let i = all.length - 1; i > 0 && intervals.length < 5; i--) {
    if (all[i].exposureMs !== last.exposureMs || all[i - 1].exposureMs !== last.exposureMs) break
    intervals.push(all[i].startMs - all[i - 1].startMs)
  }
  if (intervals.length === 0) return null
  const usual = intervals.sort((a, b) => a - b)[intervals.length >> 1]
  const nextMs = last.startMs + usual + last.exposureMs
  return now.getTime() > nextMs + PATIENCE * usual ? null : new Date(nextMs).toISOString()
}

/** Hours of room on the disk that holds these frames at their own pace; null where it cannot be told. */
export function roomH(frames: readonly Frame[], bytes: number, freeBytes = freeOnDiskOf): number | null {
  const all = timed(frames)
  const spanMs = all.length > 1 ? all.at(-1)!.startMs + all.at(-1)!.exposureMs - all[0].startMs : 0
  const newest = frames.at(-1)
  if (spanMs <= 0 || bytes <= 0 || !newest) return null
  const free = freeBytes(newest.path)
  return free === null ? null : free / (bytes / (spanMs / HOUR_MS))
}

function freeOnDiskOf(path: string): number | null {
  try {
    const { bavail, bsize } = statfsSync(dirname(path))
    return bavail * bsize
  } catch {
    return null
  }
}
