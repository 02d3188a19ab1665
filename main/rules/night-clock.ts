import type { NightState } from './state.ts'
import { sunTimes, type SunTimes } from './sun.ts'

const hourMs = 3_600_000

/** What time it is in the night. All times UTC, ms. */
export interface NightClock {
  /** The moment at which the night is judged: now, or its own end where that is past. */
  nowMs: number
  beginsMs: number
  endsMs: number
  past: boolean
  sun: SunTimes | null
  /** When lights end. Without a site it is taken for six in the morning by the Sun: a guess, early in winter and late in summer. */
  dawnMs: number
  duskMs: number
  afterDawn: boolean
}

export function readClock(state: NightState): NightClock {
  const longitudeMs = ((state.site?.longDeg ?? 0) / 15) * hourMs
  const noonMs = Date.parse(`${state.night}T12:00:00Z`) - longitudeMs
  const endsMs = state.endsAt === undefined ? noonMs + 24 * hourMs : Date.parse(state.endsAt)
  const beginsMs = endsMs - 24 * hourMs
  const trueMs = Date.parse(state.now)
  const nowMs = Math.min(trueMs, endsMs)
  const sun = state.site ? sunTimes(state.site, beginsMs) : null
  // In a white night there is no −12°: lights end when the Sun comes up, or with the guess.
  const dawnMs = sun?.dawnMs ?? sun?.sunriseMs ?? endsMs - 6 * hourMs
  const duskMs = sun?.duskMs ?? sun?.sunsetMs ?? beginsMs + 6 * hourMs
  return { nowMs, beginsMs, endsMs, past: trueMs >= endsMs, sun, dawnMs, duskMs, afterDawn: nowMs >= dawnMs }
}

/** "21:12" in the zone, or "21:12 UTC". */
export function sayTime(atMs: number, zone: string | undefined): string {
  const clock = new Intl.DateTimeFormat('en-GB', {
    timeZone: zone ?? 'UTC',
    hour: '2-digit',
    minute: '2-digit',
    hourCycle: 'h23',
  }).format(atMs)
  return zone === undefined ? `${clock} UTC` : clock
}
