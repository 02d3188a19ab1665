/**
 * Values as a person reads them: units always, a true minus sign, local times. A value and its unit never part at a line's
 * end (no-break spaces); `plain` undoes that for text that is copied elsewhere.
 */

const NBSP = '\u00a0'
const MINUS = '\u2212'
const THIN = '\u202f'
const MINUTE_S = 60
const HOUR_S = 3600
const DAY_MS = 86_400_000

/** 28000 → "28 000", -9.95 → "−10.0" with one digit; trailing zeros stay unless `trim`. */
export function number(value: number, digits = 0, trim = false): string {
  let text = Math.abs(value).toFixed(digits)
  if (trim && text.includes('.')) text = text.replace(/\.?0+$/, '')
  const [whole = '0', fraction] = text.split('.')
  const grouped = whole.length > 4 ? whole.replace(/\B(?=(\d{3})+$)/g, THIN) : whole
  const sign = value < 0 && Number(text) !== 0 ? MINUS : ''
  return sign + grouped + (fraction ? `.${fraction}` : '')
}

export const withUnit = (text: string, unit: string) => `${text}${NBSP}${unit}`

/** Exposure in seconds, as it is typed into capture software: "300 s", "3.5 s", "0.0125 s". */
export const exposure = (seconds: number) => withUnit(number(seconds, seconds < 1 ? 5 : 3, true), 's')

/** Measured temperatures show their tenth, set points only where they have one. */
export const measuredTemp = (celsius: number) => withUnit(number(celsius, 1), '°C')
export const setTemp = (celsius: number) => withUnit(number(celsius, 1, true), '°C')

/** How long something takes: "45 s", "41 min", "4.3 h", "61 h". */
export function duration(seconds: number): string {
  if (seconds < 100) return withUnit(number(seconds), 's')
  if (seconds < 100 * MINUTE_S) return withUnit(number(seconds / MINUTE_S), 'min')
  const hours = seconds / HOUR_S
  return withUnit(number(hours, hours < 9.95 ? 1 : 0), 'h')
}

/** Time still to go, in hours and minutes: "4 h 20 min", "35 min". */
export function remaining(ms: number): string {
  const minutes = Math.max(0, Math.floor(ms / 60_000))
  const hours = Math.floor(minutes / 60)
  const rest = withUnit(number(minutes % 60), 'min')
  return hours ? `${withUnit(number(hours), 'h')} ${rest}` : rest
}

/** A clock that runs down: "3:12", "1:02:05". Never negative. */
export function countdown(ms: number): string {
  const seconds = Math.max(0, Math.ceil(ms / 1000))
  const two = (value: number) => String(value).padStart(2, '0')
  const hours = Math.floor(seconds / HOUR_S)
  const minutes = Math.floor((seconds % HOUR_S) / MINUTE_S)
  return hours ? `${hours}:${two(minutes)}:${two(seconds % 60)}` : `${minutes}:${two(seconds % 60)}`
}

/** "1 frame", "25 frames", "1 dark flat". */
export const counted = (count: number, one: string, many = `${one}s`) =>
  withUnit(number(count), count === 1 ? one : many)

/** Age of a master: "made today", "1 day old", "41 days old", "14 months old", "3 years old". */
export function age(days: number): string {
  if (days < 1) return 'made today'
  if (days < 90) return `${counted(Math.floor(days), 'day')} old`
  const months = Math.floor(days / 30.44)
  return months < 24 ? `${counted(months, 'month')} old` : `${counted(Math.floor(days / 365.25), 'year')} old`
}

const formats = new Map<string, Intl.DateTimeFormat>()
function formatted(instant: Date, options: Intl.DateTimeFormatOptions): string {
  const key = JSON.stringify(options)
  let format = formats.get(key)
  if (!format) formats.set(key, (format = new Intl.DateTimeFormat('en-GB', options)))
  return format.format(instant)
}

const HOURS: Intl.DateTimeFormatOptions = { hour: '2-digit', minute: '2-digit', hourCycle: 'h23' }
const DATE: Intl.DateTimeFormatOptions = { day: 'numeric', month: 'long', year: 'numeric' }

/** Local time of an instant, "01:54"; `timeZone` only for tests. */
export const clockTime = (iso: string, timeZone?: string) =>
  formatted(new Date(iso), { ...HOURS, ...(timeZone && { timeZone }) })

/** Local date and time: "21 November 2026, 01:54". */
export const dateAndTime = (iso: string, timeZone?: string) =>
  `${formatted(new Date(iso), { ...DATE, ...(timeZone && { timeZone }) })}, ${clockTime(iso, timeZone)}`

/** The same instant in UTC, for those who compare logs: "01:54:12 UTC, 21 November 2026". */
export const utc = (iso: string) =>
  `${formatted(new Date(iso), { ...HOURS, second: '2-digit', timeZone: 'UTC' })} UTC, ${formatted(new Date(iso), { ...DATE, timeZone: 'UTC' })}`

/** A night by the date on which it began: "20 November 2026". A date, not an instant: no zone applies. */
export const nightName = (night: string) => formatted(new Date(`${night}T12:00:00Z`), { ...DATE, timeZone: 'UTC' })

/** "20 November" for a night of this year, else with its year. */
export function shortNight(night: string, now: number): string {
  const name = nightName(night)
  return Math.abs(now - Date.parse(night)) < 300 * DAY_MS ? name.replace(/ \d{4}$/, '') : name
}

/** A sentence from the engine, in which no line ends between a number and its unit. */
export const unbroken = (sentence: string) =>
  sentence.replace(/(\d) (?=\d{3}(?!\d)|(?:°C|%|(?:s|min|h|ms|px|mm|GB|MB|ADU|e⁻)(?![\p{L}\d])))/gu, `$1${NBSP}`)

/** Text for a clipboard: ordinary spaces and hyphens, so that it can be typed or pasted anywhere. */
export const plain = (text: string) => text.replaceAll(/[\u00a0\u202f]/g, ' ').replaceAll(MINUS, '-')
