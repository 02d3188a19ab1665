import { sumWords } from './checksum.ts'
import { padded } from './structure.ts'
import { printable, type NewCard } from './write-cards.ts'
import { unitHeader } from './write-unit.ts'

/** A column of a table: texts (ASCII, see `printable`), 32-bit integers, or 64-bit reals. */
export type TableColumn = { name: string; unit?: string } & (
  { type: 'text'; values: readonly string[] } | { type: 'int32' | 'float64'; values: readonly number[] }
)

/** A BINTABLE extension; all columns have the same number of values. */
export interface NewTable {
  /** EXTNAME. */
  name: string
  columns: TableColumn[]
  cards?: readonly NewCard[]
}

interface Field {
  form: string
  length: number
  write(row: number, to: Buffer, at: number): void
}

/**
 * The bytes of a table extension, header and data, padded.
 * @throws RangeError where columns differ in length or an integer does not fit
 */
export function encodeTable(table: NewTable, checksum: boolean): Buffer {
  const rows = table.columns[0]?.values.length ?? 0
  if (table.columns.some((column) => column.values.length !== rows))
    throw new RangeError(`The columns of table ${table.name} differ in length.`)
  const fields = table.columns.map(fieldOf)
  const rowLength = fields.reduce((sum, field) => sum + field.length, 0)
  const data = Buffer.alloc(padded(rowLength * rows))
  for (let row = 0, at = 0; row < rows; row++)
    for (const field of fields) {
      field.write(row, data, at)
      at += field.length
    }
  const structure: NewCard[] = [
    { keyword: 'XTENSION', value: 'BINTABLE', comment: 'binary table extension' },
    { keyword: 'BITPIX', value: 8, comment: 'bytes' },
    { keyword: 'NAXIS', value: 2 },
    { keyword: 'NAXIS1', value: rowLength, comment: 'bytes per row' },
    { keyword: 'NAXIS2', value: rows, comment: 'rows' },
    { keyword: 'PCOUNT', value: 0 },
    { keyword: 'GCOUNT', value: 1 },
    { keyword: 'TFIELDS', value: fields.length, comment: 'columns' },
    ...table.columns.flatMap(({ name, unit }, i): NewCard[] => [
      { keyword: `TTYPE${i + 1}`, value: name },
      { keyword: `TFORM${i + 1}`, value: fields[i].form },
      ...(unit ? [{ keyword: `TUNIT${i + 1}`, value: unit }] : []),
    ]),
    { keyword: 'EXTNAME', value: table.name },
  ]
  const header = unitHeader(structure, table.cards ?? [], checksum ? sumWords(data) : null)
  return Buffer.concat([header, data])
}

function fieldOf(column: TableColumn): Field {
  if (column.type === 'int32') {
    const { values } = column
    return { form: '1J', length: 4, write: (row, to, at) => void to.writeInt32BE(values[row], at) }
  }
  if (column.type === 'float64') {
    const { values } = column
    return { form: '1D', length: 8, write: (row, to, at) => void to.writeDoubleBE(values[row], at) }
  }
  const texts = (column.values as readonly string[]).map(printable)
  const length = texts.reduce((most, text) => Math.max(most, text.length), 1)
  return {
    form: `${length}A`,
    length,
    write: (row, to, at) => void to.write(texts[row].padEnd(length), at, 'latin1'),
  }
}
