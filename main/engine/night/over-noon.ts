import type { Frame } from '../../contract/index.ts'
import { DARK_RUN_PAUSE_S, groupRuns } from '../../frame/runs.ts'
import type { Readable } from '../../../db/handle.ts'
import { darksOfNight, hasOtherThanDarks } from '../../../db/tables/frames.ts'

/** Noons that a run is followed over: a week of darks in a row is a long one. */
const MOST_NOONS = 14
const DAY_MS = 86_400_000

/**
 * Darks, dark flats and bias frames of the nights around one that may belong to a run of its own darks, because one goes on over
 * noon. None for a night without darks.
 */
export function darksOverNoon(db: Readable, night: string): Frame[] {
  const own = darksOfNight(db, night)
  if (own.length === 0) return []
  return [...reach(db, night, own, -1), ...reach(db, night, own, 1)]
}

function reach(db: Readable, night: string, own: readonly Frame[], step: 1 | -1): Frame[] {
  const found: Frame[] = []
  let edge = own
  for (let noons = 1; noons <= MOST_NOONS; noons++) {
    const next = darksOfNight(db, shift(night, step * noons))
    if (next.length === 0 || !(step < 0 ? goesOn(next, edge) : goesOn(edge, next))) break
    found.push(...next)
    edge = next
  }
  return found
}

function goesOn(before: readonly Frame[], after: readonly Frame[]): boolean {
  const ends = before.map((frame) => Date.parse(frame.startedAt ?? '') + (frame.exposureS ?? 0) * 1000)
  const starts = after.map((frame) => Date.parse(frame.startedAt ?? ''))
  const known = (ms: number) => !Number.isNaN(ms)
  return Math.min(...starts.filter(known)) - Math.max(...ends.filter(known)) <= DARK_RUN_PAUSE_S * 1000
}

/** The night in which all that a night holds began: an earlier one while darks of it go on over noon and nothing else came. */
export function nightOfItsRuns(db: Readable, night: string): string {
  if (hasOtherThanDarks(db, night)) return night
  const own = darksOfNight(db, night)
  const ids = new Set(own.map((frame) => frame.id))
  const runs = groupRuns([...reach(db, night, own, -1), ...own]).filter((run) => run.frameIds.some((id) => ids.has(id)))
  return (
    runs
      .map((run) => run.night)
      .sort()
      .at(-1) ?? night
  )
}

const shift = (night: string, days: number) => new Date(Date.parse(night) + days * DAY_MS).toISOString().slice(0, 10)
