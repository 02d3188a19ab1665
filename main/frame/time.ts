import { readWords } from './values.ts'

const isoStamp =
  /^(\d{4})-(\d{1,2})-(\d{1,2})(?:[T ]+(\d{1,2}):(\d{1,2})(?::(\d{1,2})(?:[.,](\d+))?)?)?\s*(Z|[+-]\d{2}:?\d{2})?$/i
const oldDate = /^(\d{1,2})\/(\d{1,2})\/(\d{2})$/
const clockTime = /^(\d{1,2})[:\s](\d{1,2})(?:[:\s](\d{1,2})(?:[.,](\d+))?)?$/

export interface Stamp {
  /** ms since 1970, the stamp read as UTC. */
  ms: number
  hasTime: boolean
}

/**
 * A date as headers write it: CCYY-MM-DD, with or without a time (any number of decimals), or the old DD/MM/YY, which by the
 * standard's year-2000 agreement means 19YY only. Null for what is no date.
 */
export function readStamp(value: unknown): Stamp | null {
  const text = readWords(value)
  if (text === null) return null
  const old = oldDate.exec(text)
  if (old) return stamp(1900 + Number(old[3]), Number(old[2]), Number(old[1]), 0, false)
  const iso = isoStamp.exec(text)
  if (!iso) return null
  const [, year, month, day, hour, minute, second, fraction, zone] = iso
  const time = hour === undefined ? 0 : timeMs(hour, minute, second, fraction)
  if (time === null) return null
  return stamp(Number(year), Number(month), Number(day), time - offsetOf(zone), hour !== undefined)
}

/** A time of day ('00:57:33', '21 45 06.5') in ms since midnight; null for what is none. */
export function readClock(value: unknown): number | null {
  const match = clockTime.exec(readWords(value) ?? '')
  return match && timeMs(match[1], match[2], match[3], match[4])
}

function timeMs(hour: string, minute: string, second = '0', fraction = ''): number | null {
  const [h, m, s] = [Number(hour), Number(minute), Number(second)]
  // 24:00:00 and a leap second (…:60) do occur.
  if (h > 24 || m > 59 || s > 60) return null
  return ((h * 60 + m) * 60 + s) * 1000 + Math.round(Number(`0.${fraction || 0}`) * 1000)
}

function stamp(year: number, month: number, day: number, timeOfDayMs: number, hasTime: boolean): Stamp | null {
  const midnight = Date.UTC(year, month - 1, day)
  const date = new Date(midnight)
  if (year < 1900 || date.getUTCMonth() !== month - 1 || date.getUTCDate() !== day) return null
  return { ms: midnight + timeOfDayMs, hasTime }
}

function offsetOf(zone: string | undefined): number {
  if (!zone || zone.toUpperCase() === 'Z') return 0
  const minutes = Number(zone.slice(1, 3)) * 60 + Number(zone.slice(-2))
  return (zone.startsWith('-') ? -minutes : minutes) * 60_000
}
