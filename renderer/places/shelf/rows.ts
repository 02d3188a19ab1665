import type { ShelfPage } from '../../../main/contract/index.ts'

/** Columns that hold a place in `texts`; -1 where not known. */
export const TEXT_COLUMNS = [
  'camera',
  'body',
  'filter',
  'telescope',
  'train',
  'rig',
  'binning',
  'program',
  'readout',
  'gain',
  'offset',
] as const
/** Columns that hold a number; NaN where not known. */
export const NUMBER_COLUMNS = [
  'width',
  'height',
  'setTempC',
  'sensorTempC',
  'exposureS',
  'frames',
  'madeAtMs',
  'provenAtMs',
  'noise',
] as const
const SMALL_COLUMNS = ['kind', 'state', 'confirmed', 'unwanted'] as const

export type TextColumn = (typeof TEXT_COLUMNS)[number]
export type NumberColumn = (typeof NUMBER_COLUMNS)[number]
type SmallColumn = (typeof SMALL_COLUMNS)[number]

/**
 * The masters of the shelf as columns, a row each in all of them: a hundred thousand are searched and sorted within a frame. `kind` and
 * `state` are places in MASTER_KINDS and MASTER_STATES.
 */
export type ShelfRows = {
  readonly count: number
  readonly texts: readonly string[]
  readonly id: Int32Array
} & Readonly<Record<TextColumn, Int32Array> & Record<NumberColumn, Float64Array> & Record<SmallColumn, Uint8Array>>

const columnsOf = <C extends string, A>(names: readonly C[], make: () => A) =>
  Object.fromEntries(names.map((name) => [name, make()])) as Record<C, A>

/** Rows of pages that are added one after another. */
export class RowsBuilder {
  readonly #total: number
  readonly #texts: string[] = []
  readonly #places = new Map<string, number>()
  readonly #id: Int32Array
  readonly #text: Record<TextColumn, Int32Array>
  readonly #number: Record<NumberColumn, Float64Array>
  readonly #small: Record<SmallColumn, Uint8Array>
  #count = 0

  /** @param total how many rows there will be at most */
  constructor(total: number) {
    this.#total = total
    this.#id = new Int32Array(total)
    this.#text = columnsOf(TEXT_COLUMNS, () => new Int32Array(total))
    this.#number = columnsOf(NUMBER_COLUMNS, () => new Float64Array(total))
    this.#small = columnsOf(SMALL_COLUMNS, () => new Uint8Array(total))
  }

  get count() {
    return this.#count
  }

  /** Rows beyond `total` are left out: masters that came meanwhile are asked for again anyway. */
  add({ texts, columns }: Pick<ShelfPage, 'texts' | 'columns'>): void {
    const from = this.#count
    const rows = Math.min(columns.id.length, this.#total - from)
    const place = texts.map((text) => this.#placeOf(text))
    for (let row = 0; row < rows; row++) this.#id[from + row] = columns.id[row]!
    for (const name of TEXT_COLUMNS) {
      const column = this.#text[name]
      for (let row = 0; row < rows; row++) column[from + row] = place[columns[name][row]!] ?? -1
    }
    for (const name of NUMBER_COLUMNS) {
      const column = this.#number[name]
      for (let row = 0; row < rows; row++) column[from + row] = columns[name][row] ?? NaN
    }
    for (const name of SMALL_COLUMNS) {
      const column = this.#small[name]
      for (let row = 0; row < rows; row++) column[from + row] = columns[name][row]!
    }
    this.#count += rows
  }

  build(): ShelfRows {
    const cut = <A extends Int32Array | Float64Array | Uint8Array>(column: A) => column.subarray(0, this.#count) as A
    const cutAll = <C extends string, A extends Int32Array | Float64Array | Uint8Array>(columns: Record<C, A>) =>
      Object.fromEntries(Object.entries<A>(columns).map(([name, column]) => [name, cut(column)])) as Record<C, A>
    return {
      count: this.#count,
      texts: this.#texts,
      id: cut(this.#id),
      ...cutAll(this.#text),
      ...cutAll(this.#number),
      ...cutAll(this.#small),
    }
  }

  #placeOf(text: string): number {
    let at = this.#places.get(text)
    if (at === undefined) this.#places.set(text, (at = this.#texts.push(text) - 1))
    return at
  }
}

export const noRows: ShelfRows = new RowsBuilder(0).build()

export const textOf = (rows: ShelfRows, column: TextColumn, row: number): string | null =>
  rows.texts[rows[column][row]!] ?? null

export function numberOf(rows: ShelfRows, column: NumberColumn, row: number): number | null {
  const value = rows[column][row]!
  return Number.isNaN(value) ? null : value
}

/** The temperature by which a master goes: measured, or the set point where only that is known. */
export const tempOf = (rows: ShelfRows, row: number): number | null =>
  numberOf(rows, 'sensorTempC', row) ?? numberOf(rows, 'setTempC', row)

const DAY_MS = 86_400_000

/** Whole days since it was made; null where that is not known. */
export function ageDaysOf(rows: ShelfRows, row: number, nowMs: number): number | null {
  const madeAtMs = numberOf(rows, 'madeAtMs', row)
  return madeAtMs === null ? null : Math.max(0, Math.floor((nowMs - madeAtMs) / DAY_MS))
}

/** Ids to look up; null while they are not known. */
export const idSet = (ids: readonly number[] | undefined): ReadonlySet<number> | null => (ids ? new Set(ids) : null)
