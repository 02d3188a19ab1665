import type { Card, CardValue } from './card.ts'
import { BLOCK_LENGTH, CARD_LENGTH } from './header.ts'

/** A card to be written. Commentary keywords (COMMENT, HISTORY, '') take a text of any length, strings are continued. */
export interface NewCard {
  keyword: string
  value?: CardValue
  comment?: string
  /** A number of a real quantity keeps its decimal point even where it is whole: 300 becomes 300.0. */
  real?: boolean
  form?: Card['form']
}

const STANDARD_KEYWORD = /^[A-Z0-9_-]{1,8}$/
const HIERARCH_KEYWORD = /^[A-Z0-9_-]+( [A-Z0-9_-]+)*$/

/**
 * The 80-character records of one card, in fixed format (standard 4.0, 4.2).
 * @throws RangeError for a keyword or value that FITS cannot hold
 */
export function formatCard(card: NewCard): string[] {
  const keyword = card.keyword.toUpperCase()
  if (card.form === 'text' || keyword === 'COMMENT' || keyword === 'HISTORY' || keyword === '')
    return formatText(keyword, card.value)
  const start = startOf(keyword)
  const { value = null } = card
  const comment = printable(card.comment ?? '').trim()
  if (typeof value === 'string') return formatString(start, printable(value), comment)
  const text = scalarText(value, card.real === true)
  // Fixed format ends a number in byte 30; the value of a HIERARCH card has no columns.
  const field = keyword.length > 8 ? text : text.padStart(20)
  const record = start + field
  if (record.length > CARD_LENGTH) throw new RangeError(`The value of ${keyword} does not fit into a FITS card.`)
  return [withComment(record, comment)]
}

function startOf(keyword: string): string {
  if (STANDARD_KEYWORD.test(keyword)) return keyword.padEnd(8) + '= '
  if (HIERARCH_KEYWORD.test(keyword) && keyword.length <= 40) return `HIERARCH ${keyword} = `
  throw new RangeError(`"${keyword}" is no FITS keyword: letters, digits, - and _ only.`)
}

function scalarText(value: Exclude<CardValue, string>, real: boolean): string {
  if (value === null) return ''
  if (typeof value === 'boolean') return value ? 'T' : 'F'
  if (typeof value === 'bigint') return String(value)
  if (typeof value === 'number') return numberText(value, real)
  return `(${numberText(value.re, true)}, ${numberText(value.im, true)})`
}

/** The shortest decimal that reads back as the same number. */
function numberText(value: number, real: boolean): string {
  if (!Number.isFinite(value)) throw new RangeError(`A FITS header cannot hold ${value}.`)
  if (Number.isInteger(value) && !real && Math.abs(value) < 1e15) return String(value)
  const [mantissa, exponent] = String(value).toUpperCase().split('E')
  const point = mantissa.includes('.') ? mantissa : mantissa + '.0'
  return exponent === undefined ? point : `${point}E${exponent.replace('+', '')}`
}

/** A string in quotes; one that is longer than a card goes on in CONTINUE records, and its comment with the last piece. */
function formatString(start: string, text: string, comment: string): string[] {
  const quotedText = text.replaceAll("'", "''")
  const room = CARD_LENGTH - start.length - 2
  if (quotedText.length <= room) {
    const field = `'${quotedText.padEnd(8)}'`
    return [withComment((start + field).padEnd(start.length < 11 ? 30 : 0), comment)]
  }
  const records: string[] = []
  let rest = quotedText
  let head = start
  while (rest.length > CARD_LENGTH - head.length - 2) {
    const piece = pieceOf(rest, CARD_LENGTH - head.length - 3)
    records.push(`${head}'${piece}&'`.padEnd(CARD_LENGTH))
    rest = rest.slice(piece.length)
    head = 'CONTINUE  '
  }
  records.push(withComment(`${head}'${rest}'`, comment))
  return records
}

/** At most `length` characters that do not end between the two halves of a doubled quote. */
function pieceOf(text: string, length: number): string {
  const piece = text.slice(0, length)
  const quotes = /'*$/.exec(piece)![0].length
  return quotes % 2 === 1 ? piece.slice(0, -1) : piece
}

function withComment(record: string, comment: string): string {
  const whole = comment && record.length + 3 < CARD_LENGTH ? `${record} / ${comment}` : record
  return whole.slice(0, CARD_LENGTH).padEnd(CARD_LENGTH)
}

function formatText(keyword: string, value: CardValue | undefined): string[] {
  const text = printable(value === null || value === undefined ? '' : String(value))
  const records: string[] = []
  for (let at = 0; at === 0 || at < text.length; at += 72)
    records.push(keyword.padEnd(8) + text.slice(at, at + 72).padEnd(72))
  return records
}

/** ASCII stands in for what people type; FITS headers and tables hold nothing else. */
const STAND_INS: Record<string, string> = {
  '−': '-',
  '–': '-',
  '—': '-',
  '°': 'deg',
  µ: 'u',
  μ: 'u',
  ß: 'ss',
  '×': 'x',
  ø: 'o',
  Ø: 'O',
  æ: 'ae',
  Æ: 'AE',
  '’': "'",
  '“': '"',
  '”': '"',
}

/** Text in the characters that FITS allows (bytes 32 to 126): accents are dropped, the rest becomes "?". */
export function printable(text: string): string {
  if (/^[ -~]*$/.test(text)) return text
  return text
    .replace(/[−–—°µμß×øØæÆ’“”]/g, (character) => STAND_INS[character])
    .normalize('NFKD')
    .replace(/\p{M}/gu, '')
    .replace(/\s/g, ' ')
    .replace(/[^ -~]/gu, '?')
}

/** A whole header: the records, END, and blanks to a whole number of blocks. */
export function headerBytes(records: string[]): Buffer {
  const text = records.join('') + 'END'.padEnd(CARD_LENGTH)
  return Buffer.from(text.padEnd(Math.ceil(text.length / BLOCK_LENGTH) * BLOCK_LENGTH), 'latin1')
}
