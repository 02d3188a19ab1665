import type { SettingDefinition, Unit } from './dictionary.ts'

/** A header value read as a quantity, or why it cannot be (the sentence goes on from "GAIN is 1.9, "); null if it says nothing. */
export type Reading = { value: number } | { why: string } | null

const unitNames: Readonly<Record<Unit, readonly string[]>> = {
  s: ['s', 'sec', 'secs', 'second', 'seconds'],
  ms: ['ms', 'msec', 'msecs', 'millisec', 'millisecond', 'milliseconds'],
  us: ['us', 'usec', 'µs', 'μs', 'microsecond', 'microseconds'],
  min: ['min', 'mins', 'minute', 'minutes'],
  C: ['c', 'degc', 'celsius', 'deg c', 'degrees c', 'deg celsius', 'degree celsius', 'degrees celsius', '°c', '° c'],
  K: ['k', 'degk', 'deg k', 'kelvin', 'kelvins'],
  F: ['f', 'degf', 'deg f', 'fahrenheit', 'degrees fahrenheit', '°f', '° f'],
  mm: ['mm', 'millimeter', 'millimeters', 'millimetre', 'millimetres'],
  cm: ['cm', 'centimeter', 'centimeters', 'centimetre', 'centimetres'],
  m: ['m', 'meter', 'meters', 'metre', 'metres'],
  um: ['um', 'µm', 'μm', 'micron', 'microns', 'micrometer', 'micrometers', 'micrometre', 'micrometres'],
  deg: ['deg', 'degree', 'degrees', '°'],
  'e-/ADU': ['e-/adu', 'e/adu', 'electron/adu', 'electrons/adu', 'e-/dn', 'e/dn', 'e-/count', 'electrons per adu'],
}
const unitByName = new Map(
  Object.entries(unitNames).flatMap(([unit, names]) => names.map((name) => [name, unit as Unit] as const)),
)

/** "found in → kept in"; what is not here cannot be meant. "5m" as an exposure is minutes. */
const conversions: Readonly<Record<string, (n: number) => number>> = {
  'ms → s': (n) => n / 1e3,
  'us → s': (n) => n / 1e6,
  'min → s': (n) => n * 60,
  'm → s': (n) => n * 60,
  'K → C': (n) => n - 273.15,
  'F → C': (n) => ((n - 32) * 5) / 9,
  'cm → mm': (n) => n * 10,
  'm → mm': (n) => n * 1000,
  'mm → um': (n) => n * 1000,
}

const quantityText = /^([+-]?(?:\d+(?:[.,]\d*)?|[.,]\d+)(?:[eEdD][+-]?\d+)?)\s*(.*)$/

/**
 * Reads a value in any of the dialects that occur: a number, or a number as text, with a decimal comma, a unit behind it
 * ('-10.0 C', '300s') or in the comment ("[ms]", "in kelvin").
 * @param unit the keyword's own unit, where neither value nor comment names one
 */
export function readQuantity(value: unknown, comment: string, definition: SettingDefinition, unit?: Unit): Reading {
  const kept = definition.unit
  if (typeof value === 'bigint') value = Number(value)
  if (typeof value === 'number') return inRange(convert(value, unitIn(comment, kept) ?? unit, kept), definition)
  if (typeof value !== 'string') return null
  const text = tidy(value)
  if (isBlank(text)) return null
  const match = quantityText.exec(text)
  if (!match) return { why: 'which is no number' }
  const [, digits, suffix] = match
  let found = unitIn(comment, kept) ?? unit
  if (suffix) {
    found = unitByName.get(suffix.toLowerCase())
    if (!found || !(found === kept || `${found} → ${kept}` in conversions))
      return { why: `and "${suffix}" is no unit for it` }
  }
  return readDigits(digits, (n) => inRange(convert(n, found, kept), definition))
}

/** '1,500' may be one and a half or fifteen hundred: only what is plausible for just one of them is taken. */
function readDigits(digits: string, accept: (n: number) => Reading): Reading {
  const decimal = accept(Number(digits.replace(',', '.').replace(/d/i, 'e')))
  if (!/^[+-]?[1-9]\d{0,2},\d{3}$/.test(digits)) return decimal
  const thousands = accept(Number(digits.replace(',', '')))
  const both = decimal && thousands && 'value' in decimal && 'value' in thousands
  return both ? { why: 'where the comma may stand for decimals or for thousands' } : decimal
}

const convert = (n: number, found: Unit | undefined, kept: Unit | undefined) =>
  found && kept && found !== kept ? (conversions[`${found} → ${kept}`]?.(n) ?? n) : n

function inRange(n: number, { unit, least = -Infinity, most = Infinity, blanks }: SettingDefinition): Reading {
  if (!Number.isFinite(n)) return { why: 'which is no number' }
  if (blanks?.includes(n)) return null
  if (n >= least && n <= most) return { value: n }
  if (unit === 'C' && n > most && n < 400) return { why: 'which is too warm for °C and may be kelvin' }
  return { why: 'which is out of any range that can be meant' }
}

/** The unit that a comment names, if it can be meant for a setting kept in `kept`. */
export function unitIn(comment: string, kept: Unit | undefined): Unit | undefined {
  if (!kept || !comment) return undefined
  const words = [
    /[[(]([^\])]*)[\])]/,
    /\bin ([^\s,;]+)/i,
    /\b(m(?:illi)?sec(?:ond)?s?|ms|microseconds?|kelvin|fahrenheit)\b/i,
  ]
  for (const pattern of words) {
    const unit = unitByName.get(pattern.exec(comment)?.[1].trim().toLowerCase() ?? '')
    if (unit && (unit === kept || `${unit} → ${kept}` in conversions)) return unit
  }
  return undefined
}

const sexagesimal =
  /^([+-]?)(\d+(?:[.,]\d+)?)(?:[\s:°ºd]+(\d+(?:[.,]\d+)?)(?:[\s:'′m]+(\d+(?:[.,]\d+)?))?)?[\s"″s°º]*$/i

/** Degrees from a real, or from degrees, minutes and seconds with any separator, and a trailing or leading N, S, E or W. */
export function readAngle(value: unknown, comment: string, definition: SettingDefinition): Reading {
  if (typeof value === 'number' || typeof value === 'bigint') value = String(value)
  if (typeof value !== 'string') return null
  let text = tidy(value)
  if (isBlank(text)) return null
  let turn = /\bwest(?:ward)? (?:is )?positive|positive west|degrees west\b/i.test(comment) ? -1 : 1
  const side = /^([NSEW])\s*|\s*([NSEW])$/i.exec(text)
  if (side) {
    text = text.replace(side[0], '').trim()
    turn = /[sw]/i.test(side[1] ?? side[2]) && !text.startsWith('-') ? -1 : 1
  }
  const match = sexagesimal.exec(text)
  const parts = match?.slice(2).map((part) => Number((part ?? '0').replace(',', '.')))
  if (!match || !parts) {
    const plain = Number(text)
    return Number.isFinite(plain) ? inRange(turn * plain, definition) : { why: 'which is no angle' }
  }
  if (parts[1] >= 60 || parts[2] >= 60) return { why: 'which is no angle' }
  const degrees = parts[0] + parts[1] / 60 + parts[2] / 3600
  return inRange(turn * (match[1] === '-' ? -degrees : degrees), definition)
}

/** Rounded as its definition says, so that noise of a float32 does not make two equal settings differ. */
export function rounded(n: number, { digits, decimals }: SettingDefinition): number {
  if (digits !== undefined) n = Number(n.toPrecision(digits))
  if (decimals !== undefined) n = Number(n.toFixed(decimals))
  return n + 0 === 0 ? 0 : n
}

/** Text without the blanks around it, with a typographic minus made plain; null if it says nothing. */
export function readWords(value: unknown): string | null {
  if (typeof value === 'number' || typeof value === 'bigint') return String(value)
  if (typeof value !== 'string') return null
  const text = tidy(value)
  return isBlank(text) ? null : text
}

const tidy = (text: string) =>
  text
    .replace(/\u2212/g, '-')
    .replace(/[\s\u0000]+/g, ' ')
    .trim()

/** What programs write for "I do not know". 'none' is not among them: a filter can be none. */
const isBlank = (text: string) => /^(|unknown|undefined|n\/?a|nan|null|not set|not available|[-?*]+)$/i.test(text)
