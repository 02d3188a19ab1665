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

const STEPS_MIN = [5, 10, 15, 30, 60, 120, 180, 240, 360, 720]
const LABEL_PX = 64

/** Full local hours, or parts of them where the axis is short: few enough that `widthPx` holds their labels. */
export function ticksOf({ from, to }: Axis, widthPx: number): number[] {
  const room = Math.max(2, Math.floor(widthPx / LABEL_PX))
  const minutes = (to - from) / MINUTE
  const step = STEPS_MIN.find((candidate) => minutes / candidate <= room) ?? STEPS_MIN.at(-1)!
  const first = new Date(from)
  first.setMinutes(0, 0, 0)
  const ticks: number[] = []
  for (let tick = first.getTime(); tick <= to; tick += Math.min(step, 60) * MINUTE)
    if (tick >= from && (step <= 60 || new Date(tick).getHours() % (step / 60) === 0)) ticks.push(tick)
  return ticks
}

export interface Lane {
  run: Run
  /** From the first frame's start to the last one's end, ms. */
  from: number
  to: number
}

const order = (a: Run, b: Run) =>
  (a.rig ?? '').localeCompare(b.rig ?? '') ||
  Number(a.kind !== 'light') - Number(b.kind !== 'light') ||
  (a.firstAt ?? '').localeCompare(b.firstAt ?? '')

/**
 * One lane a run: rig by rig, lights first, each in order of its first frame. Runs without times have no lane, and aside
 * frames share one of their own (`asideOf`).
 */
export function lanesOf(runs: readonly Run[], axis: Axis): Lane[] {
  return runs
    .filter(({ aside, firstAt }) => !aside && firstAt)
    .toSorted(order)
    .map((run) => ({ run, from: at(run.firstAt)!, to: runEnd(run)! }))
    .filter(({ from, to }) => to >= axis.from && from <= axis.to)
}

/** Runs of aside frames that the strip shows. */
export const asideOf = (runs: readonly Run[], axis: Axis) =>
  runs.filter((run) => run.aside && run.firstAt && runEnd(run)! >= axis.from && at(run.firstAt)! <= axis.to)

/** Runs that only the table can show: nobody knows when their frames were taken. */
export const untimedOf = (runs: readonly Run[]) => runs.filter(({ firstAt }) => !firstAt)

/** Train changes of the strip that still stand. */
export const standingChanges = (changes: readonly TrainChange[], axis: Axis) =>
  changes.filter(({ undoneAt, at: when }) => !undoneAt && within(axis, Date.parse(when)))
