import { FitsError } from './error.ts'
import type { FitsUnit } from './file.ts'
import type { Header } from './header.ts'

/** Bytes of one element of a binary table's column, by its type letter (standard 4.0, Table 18). */
const WIDTHS: Record<string, number> = { L: 1, B: 1, I: 2, J: 4, K: 8, A: 1, E: 4, D: 8, C: 8, M: 16, P: 8, Q: 16 }

interface Column {
  offset: number
  letter: string
  /** Of a variable-length column: bytes of one element in the heap. */
  elementWidth: number
}

/** A stretch of the table's heap, as the file's own offset and bytes; null where the cell is empty. */
export interface Stretch {
  offset: number
  length: number
  elementWidth: number
}

export type TileColumn = 'COMPRESSED_DATA' | 'GZIP_COMPRESSED_DATA' | 'UNCOMPRESSED_DATA'

/** The binary table that a tile-compressed image is stored in: where each tile's bytes lie. */
export class TileTable {
  readonly rowCount: number
  readonly #columns: Map<string, Column>
  readonly #rowLength: number
  readonly #heap: number
  readonly #end: number
  readonly #cells: Buffer

  /** @param readTable reads that many bytes from the table's start; called once, after the claim is checked */
  constructor(unit: FitsUnit, fileSize: number, readTable: (offset: number, length: number) => Buffer) {
    const [rowLength, rowCount = 0] = unit.axes
    this.#rowLength = rowLength
    this.rowCount = rowCount
    this.#columns = columnsOf(unit.header, rowLength)
    const tableLength = rowLength * rowCount
    const theap = unit.header.number('THEAP') ?? tableLength
    this.#end = unit.dataOffset + unit.dataLength
    this.#heap = unit.dataOffset + theap
    if (unit.bitpix !== 8 || !(theap >= tableLength) || this.#heap > this.#end) throw badTable()
    if (this.#end > fileSize)
      throw new FitsError(
        'data-cut',
        'This file ends before its image does: copy it again from the camera computer, or leave it out.',
      )
    this.#cells = readTable(unit.dataOffset, tableLength)
  }

  has(column: string): boolean {
    return this.#columns.has(column)
  }

  /** Where a tile's bytes are; null where that column is not there or its cell is empty. */
  stretch(row: number, name: TileColumn): Stretch | null {
    const column = this.#columns.get(name)
    if (!column || column.elementWidth === 0) return null
    const at = row * this.#rowLength + column.offset
    const long = column.letter === 'Q'
    const count = long ? Number(this.#cells.readBigInt64BE(at)) : this.#cells.readInt32BE(at)
    const start = long ? Number(this.#cells.readBigInt64BE(at + 8)) : this.#cells.readInt32BE(at + 4)
    if (count === 0) return null
    const length = count * column.elementWidth
    const offset = this.#heap + start
    if (count < 0 || start < 0 || !(offset + length <= this.#end)) throw badTile(row)
    return { offset, length, elementWidth: column.elementWidth }
  }

  /** The integer in a fixed column's cell (ZBLANK). */
  integer(row: number, name: string): number | null {
    const column = this.#columns.get(name)
    if (!column) return null
    const at = row * this.#rowLength + column.offset
    if (column.letter === 'B') return this.#cells.readUInt8(at)
    if (column.letter === 'I') return this.#cells.readInt16BE(at)
    if (column.letter === 'J') return this.#cells.readInt32BE(at)
    return column.letter === 'K' ? Number(this.#cells.readBigInt64BE(at)) : null
  }
}

function columnsOf(header: Header, rowLength: number): Map<string, Column> {
  const columns = new Map<string, Column>()
  let offset = 0
  for (let i = 1; i <= (header.number('TFIELDS') ?? 0) && i <= 999; i++) {
    const form = /^(\d*)([LXBIJKAEDCMPQ])([LXBIJKAEDCM]?)/.exec(header.text(`TFORM${i}`) ?? '')
    if (!form) throw badTable()
    const [, repeat, letter, element] = form
    const count = repeat === '' ? 1 : Number(repeat)
    const variable = letter === 'P' || letter === 'Q'
    const name = header.text(`TTYPE${i}`)?.toUpperCase()
    // A variable column with 0P has no descriptor and no data; the first of two columns with one name counts.
    if (name && count > 0 && !columns.has(name))
      columns.set(name, { offset, letter, elementWidth: variable ? (WIDTHS[element] ?? 0) : 0 })
    offset += letter === 'X' ? Math.ceil(count / 8) : count * WIDTHS[letter]
  }
  if (offset > rowLength) throw badTable()
  return columns
}

export function badTable(): FitsError {
  return new FitsError(
    'header-bad',
    'The table of this compressed image contradicts itself: pack the original again, or copy this file again.',
  )
}

/** @param row of the table, from 0; people count from 1 */
export function badTile(row: number): FitsError {
  return new FitsError(
    'tile-bad',
    `Tile ${row + 1} of this compressed image is damaged: copy this file again from where it was packed.`,
  )
}
