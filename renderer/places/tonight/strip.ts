import type { Run, Tonight, TrainChange } from '../../../main/contract/index.ts'

/** Geometry of the night strip: instants to fractions of its width. Pure, so that it can be checked by hand. */

const MINUTE = 60_000
const HOUR = 60 * MINUTE

/** From and to, ms since 1970. */
export interface Axis {
  from: number
  to: number
}

type Night = Pick<Tonight, 'runs' | 'sun'>

const at = (iso: string | null | undefined) => (iso ? Date.parse(iso) : null)

/** When a run's last exposure ended; null where its times are not known. */
export function runEnd(run: Pick<Run, 'firstAt' | 'lastAt' | 'exposureS'>): number | null {
  const last = at(run.lastAt ?? run.firstAt)
  return last === null ? null : last + (run.exposureS ?? 0) * 1000
}

/**
 * Dusk to dawn where the Sun is known, and in any case all that was shot at night. Without a site: from half an hour
 * before the first frame to half an hour after the last (or after now, while the night goes on), at least six hours.
 * Darks that were taken by day do not stretch the night; they are cut at its ends.
 */
export function axisOf(night: Night, now: number | null): Axis | null {
  const lit = night.runs.filter(({ kind }) => kind === 'light')
  const starts = (lit.length ? lit : night.runs).flatMap((run) => at(run.firstAt) ?? [])
  const ends = (lit.length ? lit : night.runs).flatMap((run) => runEnd(run) ?? [])
  const sunset = at(night.sun?.sunsetAt)
  const sunrise = at(night.sun?.sunriseAt)
  if (sunset !== null && sunrise !== null) return { from: Math.min(sunset, ...starts), to: Math.max(sunrise, ...ends) }
  if (!starts.length) return null
  const from = Math.min(...starts) - 30 * MINUTE
  const last = Math.max(...ends, ...starts)
  const goesOn = now !== null && now - last < 2 * HOUR && now > from ? now : last
  return { from, to: Math.max(from + 6 * HOUR, goesOn + 30 * MINUTE) }
}

/** Where an instant stands, in percent of the width; cut at the ends. */
export const percentAt = ({ from, to }: Axis, instant: number) =>
  Math.max(0, Math.min(100, (100 * (instant - from)) / (to - from)))

export const within = ({ from, to }: Axis, instant: number) => instant >= from && instant <= to

/** Full local hours along the axis, few enough that `widthPx` holds their labels. */
export function hourTicks({ from, to }: Axis, widthPx: number): number[] {
  const room = Math.max(2, Math.floor(widthPx / 64))
  const hours = (to - from) / HOUR
  const step = [1, 2, 3, 4, 6].find((candidate) => hours / candidate <= room) ?? 12
  const first = new Date(from)
  first.setMinutes(0, 0, 0)
  const ticks: number[] = []
  for (let tick = first.getTime(); tick <= to; tick += HOUR)
    if (tick >= from && new Date(tick).getHours() % step === 0) ticks.push(tick)
  return ticks
}

export interface Lane {
  run: Run
  /** Percent of the width. */
  left: number
  width: number
}

const order = (a: Run, b: Run) =>
  Number(a.kind !== 'light') - Number(b.kind !== 'light') || (a.firstAt ?? '').localeCompare(b.firstAt ?? '')

/** One lane a run: lights first, each in order of its first frame. Runs without times and aside frames have no lane. */
export function lanesOf(runs: readonly Run[], axis: Axis): Lane[] {
  return runs
    .filter(({ aside, firstAt }) => !aside && firstAt)
    .toSorted(order)
    .flatMap((run) => {
      const start = at(run.firstAt)!
      const end = runEnd(run)!
      if (end < axis.from || start > axis.to) return []
      const left = percentAt(axis, start)
      return [{ run, left, width: percentAt(axis, end) - left }]
    })
}

/** Train changes of the strip that still stand. */
export const standingChanges = (changes: readonly TrainChange[], axis: Axis) =>
  changes.filter(({ undoneAt, at: when }) => !undoneAt && within(axis, Date.parse(when)))
