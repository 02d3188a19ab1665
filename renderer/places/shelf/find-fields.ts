import { fieldWord } from '../../parts/labels.ts'
import type { Condition, FindContext, Reading } from './find.ts'
import { textOf, type ShelfRows, type TextColumn } from './rows.ts'

/** "gain 120", "filter dual-band", "offset not known": a column by name, then what it says. */
const COLUMNS: Record<string, TextColumn> = {
  gain: 'gain',
  offset: 'offset',
  filter: 'filter',
  camera: 'camera',
  body: 'body',
  telescope: 'telescope',
  train: 'train',
  rig: 'rig',
  program: 'program',
  readout: 'readout',
  binning: 'binning',
  bin: 'binning',
}

export function readFieldTerm(words: readonly string[], { rows }: FindContext, isOpen: boolean): Reading | null {
  const [word = '', value, more] = words
  if (word === 'no' || word === 'without') {
    const column = value && Object.hasOwn(COLUMNS, value) ? COLUMNS[value] : undefined
    return column ? { length: 2, condition: unknownIn(rows, column) } : null
  }
  if (/^\dx\d$/.test(word)) return { length: 1, condition: valueIn(rows, 'binning', word, false) }
  const column = Object.hasOwn(COLUMNS, word) ? COLUMNS[word] : undefined
  if (!column) return null
  if (value === undefined) return { length: 1, condition: null }
  if (value === 'unknown' || value === '?') return { length: 2, condition: unknownIn(rows, column) }
  if (value === 'not' && (more === undefined || 'known'.startsWith(more)))
    return { length: more ? 3 : 2, condition: unknownIn(rows, column) }
  return { length: 2, condition: valueIn(rows, column, value, isOpen && words.length === 2) }
}

const unknownIn = (rows: ShelfRows, column: TextColumn): Condition => ({
  says: `${fieldWord(column)} not known`,
  fits: (row) => rows[column][row]! < 0,
})

/** The very value where any master has it; else, and for names, its beginning: "gain 12" on the way to "gain 120". */
function valueIn(rows: ShelfRows, column: TextColumn, value: string, isOpen: boolean): Condition {
  const isNumber = /^[-+]?\d/.test(value)
  const own = rows.texts.map((text) => text.toLowerCase())
  const isExact = isNumber && !(isOpen && !hasValue(rows, column, value))
  const isMeant = Uint8Array.from(own, (text) =>
    (isExact ? text === value : ` ${text}`.includes(` ${value}`)) ? 1 : 0,
  )
  return { says: `${fieldWord(column)} ${value}`, fits: (row) => isMeant[rows[column][row]!] === 1 }
}

function hasValue(rows: ShelfRows, column: TextColumn, value: string): boolean {
  for (let row = 0; row < rows.count; row++) if (textOf(rows, column, row)?.toLowerCase() === value) return true
  return false
}
