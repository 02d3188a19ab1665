/** One 80-byte header record, read by the FITS standard 4.0, sections 4.1 and 4.2, and tolerant of what is found in the wild. */

export interface Complex {
  re: number
  im: number
}

/**
 * null: the keyword is there without a value. Strings keep leading blanks and lose trailing ones;
 * `''` is the null string and `' '` the empty one (they differ by the standard). bigint: an integer beyond 2⁵³.
 */
export type CardValue = string | number | bigint | boolean | Complex | null

/**
 * - `value` a keyword with a value (or none yet)
 * - `text` commentary: COMMENT, HISTORY, blank, or a record without a value indicator; `value` is its text
 * - `malformed` a value that is no legal string, number or logical; `value` is its text as it stands
 */
export type CardForm = 'value' | 'text' | 'malformed'

export interface Card {
  /** As written, without the HIERARCH prefix; '' for a blank keyword. */
  keyword: string
  value: CardValue
  comment: string
  form?: CardForm
}

const QUOTE = 39
const INTEGER = /^[+-]?\d+$/
const REAL = /^[+-]?(?:\d+\.?\d*|\.\d+)(?:[EeDd][+-]?\d+)?$/
const COMPLEX = /^\(\s*([^,()\s]+)\s*,\s*([^,()\s]+)\s*\)/

/** A remembered record keeps the whole header that it was cut from, so this is a few MB at most. */
const MOST_REMEMBERED = 1_000
const remembered = new Map<string, Card>()

/**
 * Reads one record of 80 characters (latin1, one character a byte). The headers of a night share most of their records, so
 * what a record says is remembered: cards are shared and must not be changed.
 */
export function parseCard(record: string): Card {
  let card = remembered.get(record)
  if (!card) {
    card = parseRecord(record)
    if (remembered.size >= MOST_REMEMBERED) remembered.clear()
    remembered.set(record, card)
  }
  return card
}

function parseRecord(record: string): Card {
  const keyword = record.slice(0, 8).trimEnd()
  if (keyword === 'COMMENT' || keyword === 'HISTORY' || keyword === '')
    return { keyword, value: readable(record.slice(8).trimEnd()), comment: '', form: 'text' }
  if (record.charCodeAt(8) === 61 /* = */) return valued(keyword, record.slice(9))
  if (keyword === 'HIERARCH' && record.charCodeAt(8) === 32) {
    const equals = record.indexOf('=')
    const name = record.slice(9, Math.max(equals, 9)).trim()
    if (name) return valued(name, record.slice(equals + 1))
  }
  return { keyword, value: readable(record.slice(8).trimEnd()), comment: '', form: 'text' }
}

/** A quoted piece of a CONTINUE record, or null where the record holds none. */
export function parseContinuation(record: string): { text: string; comment: string } | null {
  if (!record.startsWith('CONTINUE  ')) return null
  const start = firstNonBlank(record, 10)
  return record.charCodeAt(start) === QUOTE ? quoted(record, start) : null
}

function valued(keyword: string, field: string): Card {
  const start = firstNonBlank(field, 0)
  if (start === field.length) return { keyword, value: null, comment: '', form: 'value' }
  if (field.charCodeAt(start) === QUOTE) {
    const { text, comment } = quoted(field, start)
    return { keyword, value: readable(text), comment: readable(comment), form: 'value' }
  }
  const slash = field.indexOf('/', start)
  const text = field.slice(start, slash < 0 ? undefined : slash).trimEnd()
  const comment = slash < 0 ? '' : readable(field.slice(slash + 1).trim())
  if (text === '') return { keyword, value: null, comment, form: 'value' }
  const value = scalar(text)
  if (value !== undefined) return { keyword, value, comment, form: 'value' }
  return { keyword, value: readable(text), comment, form: 'malformed' }
}

/** Logical, integer, real or complex; undefined for anything else. */
function scalar(text: string): CardValue | undefined {
  if (text === 'T') return true
  if (text === 'F') return false
  if (INTEGER.test(text)) {
    const value = Number(text)
    return Number.isSafeInteger(value) ? value + 0 : BigInt(text.replace(/^\+/, ''))
  }
  const value = real(text)
  if (value !== undefined) return value
  const pair = COMPLEX.exec(text)
  if (!pair) return undefined
  const [re, im] = [real(pair[1]), real(pair[2])]
  return re === undefined || im === undefined ? undefined : { re, im }
}

/** Lower-case exponent letters are against the standard and common: read, never written. */
function real(text: string): number | undefined {
  if (!REAL.test(text)) return undefined
  const value = Number(text.replace(/[Dd]/, 'E'))
  return Number.isFinite(value) ? value : undefined
}

/** A quoted string from its opening quote; `''` inside it is one quote. Unclosed, it runs to the end of the record. */
function quoted(field: string, open: number): { text: string; comment: string } {
  let from = open + 1
  let text = ''
  let end = field.length
  for (;;) {
    const close = field.indexOf("'", from)
    if (close < 0) {
      text += field.slice(from)
      break
    }
    text += field.slice(from, close)
    if (field.charCodeAt(close + 1) !== QUOTE) {
      end = close + 1
      break
    }
    text += "'"
    from = close + 2
  }
  const slash = field.indexOf('/', end)
  return { text: trimValue(text), comment: slash < 0 ? '' : field.slice(slash + 1).trim() }
}

/** Trailing blanks do not count, but a string of blanks is one blank: that is how "empty" differs from "null". */
function trimValue(text: string): string {
  const trimmed = text.replace(/ +$/, '')
  return trimmed === '' && text !== '' ? ' ' : trimmed
}

function firstNonBlank(text: string, from: number): number {
  while (from < text.length && text.charCodeAt(from) === 32) from++
  return from
}

const BEYOND_ASCII = /[\x80-\xff]/
const utf8 = new TextDecoder('utf-8', { fatal: true })

/** Headers are ASCII by the standard; programs write "°" in UTF-8 or Latin-1 all the same. Both come out readable. */
export function readable(text: string): string {
  if (!BEYOND_ASCII.test(text)) return text
  try {
    return utf8.decode(Uint8Array.from(text, (character) => character.charCodeAt(0)))
  } catch {
    return text
  }
}
