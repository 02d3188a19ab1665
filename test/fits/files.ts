import { mkdtempSync, rmSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { onTestFinished } from 'vitest'

/** Header bytes as some program wrote them: records as given, padded, END and blanks after them. */
export function rawHeader(records: string[], { end = true, pad = true } = {}): Buffer {
  const text = [...records, ...(end ? ['END'] : [])].map((record) => record.padEnd(80).slice(0, 80)).join('')
  return Buffer.from(pad ? text.padEnd(Math.ceil(text.length / 2880) * 2880) : text, 'latin1')
}

/** `KEYWORD = value` in fixed format; strings are given with their quotes. */
export const record = (keyword: string, value: string | number): string =>
  keyword.padEnd(8) + '= ' + (typeof value === 'string' && value.startsWith("'") ? value : String(value).padStart(20))

/** Data padded to whole blocks. */
export function paddedData(bytes: Uint8Array): Buffer {
  const data = Buffer.alloc(Math.ceil(bytes.length / 2880) * 2880)
  data.set(bytes)
  return data
}

/** A plain primary image. */
export function rawImage(bitpix: number, axes: number[], data: Uint8Array, more: string[] = []): Buffer {
  const header = rawHeader([
    record('SIMPLE', 'T'),
    record('BITPIX', bitpix),
    record('NAXIS', axes.length),
    ...axes.map((axis, i) => record(`NAXIS${i + 1}`, axis)),
    ...more,
  ])
  return Buffer.concat([header, paddedData(data)])
}

export interface RawTiles {
  bitpix: number
  axes: number[]
  tile?: number[]
  method: string
  /** The cells of each tile's row, by column; missing cells are empty. */
  tiles: Partial<Record<'COMPRESSED_DATA' | 'GZIP_COMPRESSED_DATA' | 'UNCOMPRESSED_DATA', Uint8Array>>[]
  /** Letter of the elements of UNCOMPRESSED_DATA, and their width. */
  element?: { letter: string; width: number }
  /** Descriptors of 64 bits (Q) or of 32 (P). */
  long?: boolean
  more?: string[]
}

/** A file with an empty primary unit and a tile-compressed image in a binary table. */
export function rawTileFile({ bitpix, axes, tile, method, tiles, element, long = false, more = [] }: RawTiles): Buffer {
  const names = (['COMPRESSED_DATA', 'GZIP_COMPRESSED_DATA', 'UNCOMPRESSED_DATA'] as const).filter((name) =>
    tiles.some((cells) => cells[name]),
  )
  const cellLength = long ? 16 : 8
  const rowLength = names.length * cellLength
  const table = Buffer.alloc(rowLength * tiles.length)
  const heap: Uint8Array[] = []
  let heapLength = 0
  tiles.forEach((cells, row) =>
    names.forEach((name, column) => {
      const bytes = cells[name]
      if (!bytes) return
      const width = name === 'UNCOMPRESSED_DATA' ? (element?.width ?? 1) : 1
      const at = row * rowLength + column * cellLength
      if (long) {
        table.writeBigInt64BE(BigInt(bytes.length / width), at)
        table.writeBigInt64BE(BigInt(heapLength), at + 8)
      } else {
        table.writeInt32BE(bytes.length / width, at)
        table.writeInt32BE(heapLength, at + 4)
      }
      heap.push(bytes)
      heapLength += bytes.length
    }),
  )
  const letter = (name: string) => (name === 'UNCOMPRESSED_DATA' ? (element?.letter ?? 'B') : 'B')
  const header = rawHeader([
    record('XTENSION', "'BINTABLE'"),
    record('BITPIX', 8),
    record('NAXIS', 2),
    record('NAXIS1', rowLength),
    record('NAXIS2', tiles.length),
    record('PCOUNT', heapLength),
    record('GCOUNT', 1),
    record('TFIELDS', names.length),
    ...names.flatMap((name, i) => [
      record(`TTYPE${i + 1}`, `'${name}'`),
      record(`TFORM${i + 1}`, `'1${long ? 'Q' : 'P'}${letter(name)}'`),
    ]),
    record('ZIMAGE', 'T'),
    record('ZCMPTYPE', `'${method}'`),
    record('ZBITPIX', bitpix),
    record('ZNAXIS', axes.length),
    ...axes.map((axis, i) => record(`ZNAXIS${i + 1}`, axis)),
    ...(tile ?? []).map((length, i) => record(`ZTILE${i + 1}`, length)),
    ...more,
  ])
  const primary = rawHeader([record('SIMPLE', 'T'), record('BITPIX', 8), record('NAXIS', 0), record('EXTEND', 'T')])
  return Buffer.concat([primary, header, paddedData(Buffer.concat([table, ...heap]))])
}

/** A folder for one test, gone when it ends. */
export function temporaryFolder(): string {
  const folder = mkdtempSync(join(tmpdir(), 'nightshelf-fits-'))
  onTestFinished(() => rmSync(folder, { recursive: true, force: true }))
  return folder
}

/** Writes bytes to a file of its own for one test. */
export function fileOf(bytes: Uint8Array, name = 'frame.fits'): string {
  const path = join(temporaryFolder(), name)
  writeFileSync(path, bytes)
  return path
}

/** A repeatable stream of numbers in [0, 1): mulberry32 (public domain, T. Ettinger; from memory). */
export function seeded(seed: number): () => number {
  let state = seed >>> 0
  return () => {
    state = (state + 0x6d2b79f5) >>> 0
    let t = Math.imul(state ^ (state >>> 15), state | 1)
    t ^= t + Math.imul(t ^ (t >>> 7), t | 61)
    return ((t ^ (t >>> 14)) >>> 0) / 4294967296
  }
}
