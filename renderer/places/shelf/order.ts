import { MASTER_KINDS } from '../../../main/contract/words.ts'
import { finish } from '../../parts/slices.ts'
import type { NumberColumn, ShelfRows, TextColumn } from './rows.ts'

/** What the table can be sorted by. `temperature` is the measured one, or the set point. */
export type SortColumn =
  'kind' | 'state' | 'temperature' | Exclude<NumberColumn, 'setTempC' | 'sensorTempC'> | TextColumn
export interface Sorting {
  by: SortColumn | null
  descending: boolean
}

/** Where each row stands among the distinct values of a column, 0 the first; unknown ones come last. */
interface Ranks {
  ranks: Uint32Array
  distinct: number
}

/** Orders of rows. What it has ranked it remembers: a second sort of a hundred thousand rows is a matter of milliseconds. */
export class Sorter {
  readonly rows: ShelfRows
  readonly #known = new Map<SortColumn, Ranks>()
  #usual: Uint32Array | null = null

  constructor(rows: ShelfRows) {
    this.rows = rows
  }

  /** Kind, camera, filter, exposure, temperature, then the newest first. */
  get usual(): Uint32Array {
    return this.#usual ?? finish(this.prepare())
  }

  /** Puts the rows into their usual order, a column a step (see `inSlices`). */
  *prepare(): Generator<void, Uint32Array> {
    let order = Uint32Array.from({ length: this.rows.count }, (_, row) => row)
    for (const column of ['madeAtMs', 'temperature', 'exposureS', 'filter', 'camera', 'kind'] as const) {
      this.#ranksOf(column)
      yield
      order = this.#by(column, order, column === 'madeAtMs')
      yield
    }
    return (this.#usual = order)
  }

  /** Rows in this order; equal ones as usual, unknown ones last either way. */
  order({ by, descending }: Sorting): Uint32Array {
    return by === null ? this.usual : this.#by(by, this.usual, descending)
  }

  /** A stable counting sort. */
  #by(column: SortColumn, order: Uint32Array, descending: boolean): Uint32Array<ArrayBuffer> {
    const { ranks, distinct } = this.#ranksOf(column)
    const placeOf = (row: number) => {
      const rank = ranks[row]!
      return descending && rank < distinct ? distinct - 1 - rank : rank
    }
    const starts = new Uint32Array(distinct + 2)
    for (const row of order) starts[placeOf(row) + 1]!++
    for (let rank = 0; rank <= distinct; rank++) starts[rank + 1]! += starts[rank]!
    const sorted = new Uint32Array(order.length)
    for (const row of order) sorted[starts[placeOf(row)]!++] = row
    return sorted
  }

  #ranksOf(column: SortColumn): Ranks {
    let known = this.#known.get(column)
    if (!known) this.#known.set(column, (known = this.#rank(column)))
    return known
  }

  #rank(column: SortColumn): Ranks {
    const rows = this.rows
    if (column === 'kind') return rankBy(rows.kind, MASTER_KINDS.length)
    if (column === 'state') return rankBy(rows.state, 4)
    if (column === 'temperature')
      return rankNumbers(rows.sensorTempC.map((value, row) => (Number.isNaN(value) ? rows.setTempC[row]! : value)))
    const values = rows[column]
    return values instanceof Float64Array ? rankNumbers(values) : rankTexts(values, rows.texts)
  }
}

const rankBy = (values: Uint8Array, distinct: number): Ranks => ({ ranks: Uint32Array.from(values), distinct })

function rankNumbers(values: Float64Array): Ranks {
  const sorted = values.filter((value) => !Number.isNaN(value)).sort()
  let distinct = 0
  for (let at = 0; at < sorted.length; at++)
    if (at === 0 || sorted[at] !== sorted[at - 1]) sorted[distinct++] = sorted[at]!
  const ranks = new Uint32Array(values.length)
  for (let row = 0; row < values.length; row++) {
    const value = values[row]!
    ranks[row] = Number.isNaN(value) ? distinct : placeIn(sorted, distinct, value)
  }
  return { ranks, distinct }
}

function placeIn(sorted: Float64Array, length: number, value: number): number {
  let low = 0
  let high = length - 1
  while (low < high) {
    const middle = (low + high) >> 1
    if (sorted[middle]! < value) low = middle + 1
    else high = middle
  }
  return low
}

const collator = new Intl.Collator('en', { numeric: true })

function rankTexts(values: Int32Array, texts: readonly string[]): Ranks {
  const order = texts.map((_, place) => place).sort((a, b) => collator.compare(texts[a]!, texts[b]!))
  const rankOf = new Uint32Array(texts.length)
  order.forEach((place, rank) => (rankOf[place] = rank))
  const ranks = new Uint32Array(values.length)
  for (let row = 0; row < values.length; row++) ranks[row] = values[row]! < 0 ? texts.length : rankOf[values[row]!]!
  return { ranks, distinct: texts.length }
}
