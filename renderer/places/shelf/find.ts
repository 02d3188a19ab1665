import { plain } from '../../parts/format.ts'
import { readFieldTerm } from './find-fields.ts'
import { readKind, readState } from './find-kinds.ts'
import { readMeasure } from './find-measures.ts'
import { TEXT_COLUMNS, type ShelfRows } from './rows.ts'

/** What words may be about besides the rows themselves. */
export interface FindContext {
  rows: ShelfRows
  nowMs: number
  /** Masters that lights of any night match, and those that they nearly match; null until known. */
  used: ReadonlySet<number> | null
  near: ReadonlySet<number> | null
  /** From this age on a dark asks for a check. */
  oldDays: number
}

/** A condition on a row, with the words in which it is told back to whoever typed it. */
export interface Condition {
  says: string
  fits(row: number): boolean
}

/** A condition read from the first `length` words; null conditions ask nothing (yet). */
export interface Reading {
  length: number
  condition: Condition | null
}

/** Words that are typed for good English and ask nothing. */
const FILLERS = new Set(
  'master masters frame frames the a an and with at of for from is are that in all any show taken made'.split(' '),
)
const NEGATIONS = new Set(['not', 'no', 'without', 'never'])

/** Words as they are compared: lower case, plain spaces and hyphens, "300s" as it is. */
export const wordsIn = (typed: string): string[] =>
  plain(typed)
    .toLowerCase()
    .split(/[\s,;]+/)
    .filter(Boolean)

/**
 * Reads plain words as conditions, all of which a master must meet: "flat dark", "dark 300 s -10", "gain 120", "retired", "older than a year".
 * Whatever is none of these is looked for at the beginning of the words of camera, filter, train and program. While the last word is being
 * typed (no space after it), its beginning is enough.
 */
export function readWords(typed: string, context: FindContext): Condition[] {
  const words = wordsIn(typed)
  const isOpen = !/[\s,;]$/.test(typed)
  const conditions: Condition[] = []
  for (let at = 0; at < words.length;) {
    const reading = readNext(words.slice(at), context, isOpen)
    if (reading.condition) conditions.push(reading.condition)
    at += reading.length
  }
  return conditions
}

function readNext(words: readonly string[], context: FindContext, isOpen: boolean): Reading {
  const known = readKnown(words, context, isOpen)
  if (known) return known
  const [word = ''] = words
  if (NEGATIONS.has(word)) {
    if (words.length === 1) return { length: 1, condition: null }
    const { length, condition } = readNext(words.slice(1), context, isOpen)
    return { length: length + 1, condition: condition && negated(condition) }
  }
  if (FILLERS.has(word)) return { length: 1, condition: null }
  return { length: 1, condition: textCondition(word, context.rows) }
}

const readKnown = (words: readonly string[], context: FindContext, isOpen: boolean): Reading | null =>
  readKind(words, context, isOpen) ??
  readFieldTerm(words, context, isOpen) ??
  readState(words, context) ??
  readMeasure(words, context)

const negated = ({ says, fits }: Condition): Condition => ({ says: `not ${says}`, fits: (row) => !fits(row) })

/** Every word of a text, also those behind hyphens and slashes: "dual-band" is found by "band". */
const beginsAWord = (text: string, word: string) => {
  const own = ` ${text.toLowerCase()}`
  return [' ', '-', '/', '_', '('].some((before) => own.includes(before + word))
}

function textCondition(word: string, rows: ShelfRows): Condition {
  // The first stands for what is not known, whose place is -1: looks outside the array would be slow.
  const isMeant = Uint8Array.from(['', ...rows.texts], (text) => (beginsAWord(text, word) ? 1 : 0))
  const columns = TEXT_COLUMNS.map((column) => rows[column])
  return { says: `“${word}”`, fits: (row) => columns.some((column) => isMeant[column[row]! + 1] === 1) }
}

/** The rows that meet every condition, in the order given. */
export function findRows(order: Uint32Array, conditions: readonly Condition[]): Uint32Array {
  if (!conditions.length) return order
  const found = new Uint32Array(order.length)
  let count = 0
  for (const row of order) if (conditions.every(({ fits }) => fits(row))) found[count++] = row
  return found.subarray(0, count)
}
