import { writeSync } from 'node:fs'
import { sumWords } from './checksum.ts'
import { bytesOf, flipSigns, swapBytes } from './samples.ts'
import { padded } from './structure.ts'
import type { NewCard } from './write-cards.ts'
import { encodeTable, type NewTable } from './write-table.ts'
import { unitHeader } from './write-unit.ts'

export type { NewCard } from './write-cards.ts'
export type { NewTable, TableColumn } from './write-table.ts'
export { describingCards } from './write-unit.ts'

/** What an image file is to be. */
export interface NewImage {
  width: number
  height: number
  /** 1 where left out. */
  planes?: number
  bitpix: 8 | 16 | -32
  /** 16 bit unsigned, by BZERO = 32768. */
  unsigned?: boolean
  /** Everything that describes the image; structural cards among them are left out, the writer gives its own. */
  cards: readonly NewCard[]
  /** DATASUM and CHECKSUM in every unit; true where left out. */
  checksum?: boolean
  /** Table extensions after the image. */
  extensions?: readonly NewTable[]
}

/** Rows of an image in the type of its file: Uint8Array, Int16Array or (unsigned) Uint16Array, Float32Array. */
export type WritableSamples = Uint8Array | Int16Array | Uint16Array | Float32Array

/** Writes an image file row by row. */
export interface FitsWriter {
  /** Appends whole rows; `rows` is the caller's and unchanged afterwards. */
  writeRows(rows: WritableSamples): void
  /**
   * Padding, extensions, and the header again with its sums. Syncing, closing and renaming are the caller's.
   * @param cards the image's cards with values that are only known now; they must take as many blocks as those given before
   */
  finish(cards?: readonly NewCard[]): { length: number }
}

/** Where bytes go: at an offset of a file, or into memory. */
type Put = (bytes: Uint8Array, offset: number) => void

/** Bytes that are turned to big-endian at once: small enough to stay in the cache. */
const CHUNK_BYTES = 1 << 18

/**
 * A whole image file as bytes.
 * @param image all planes, in the type that `bitpix` and `unsigned` say
 * @throws RangeError, TypeError where image, size and type do not belong together
 */
export function encodeFits(spec: NewImage & { image: WritableSamples }): Buffer {
  let bytes = Buffer.alloc(0)
  const writer = writeTo(
    (part, offset) => bytes.set(part, offset),
    spec,
    (length) => (bytes = Buffer.alloc(length)),
  )
  writer.writeRows(spec.image)
  writer.finish()
  return bytes
}

/**
 * Starts an image file in an empty file that is open for writing. Only a chunk of it is in memory at a time: the sums are
 * carried along, and the header is written again when they are known.
 */
export function openFitsWriter(fd: number, spec: NewImage): FitsWriter {
  return writeTo((bytes, offset) => {
    for (let done = 0; done < bytes.length;) done += writeSync(fd, bytes, done, bytes.length - done, offset + done)
  }, spec)
}

function writeTo(put: Put, spec: NewImage, reserve?: (length: number) => void): FitsWriter {
  const { width, height, planes = 1, checksum = true, extensions = [] } = spec
  const structure = imageStructure(spec)
  const rowsAll = height * planes
  const dataLength = rowsAll * width * (Math.abs(spec.bitpix) / 8)
  const header = unitHeader(structure, spec.cards, checksum ? 0 : null)
  const tables = extensions.map((table) => encodeTable(table, checksum))
  const length = header.length + padded(dataLength) + tables.reduce((sum, table) => sum + table.length, 0)
  reserve?.(length)
  put(header, 0)
  const chunk = Buffer.allocUnsafeSlow(CHUNK_BYTES)
  let written = 0
  let dataSum = 0
  return {
    writeRows(rows) {
      checkRows(spec, rows, dataLength - written)
      for (let at = 0; at < rows.byteLength; at += CHUNK_BYTES) {
        const bytes = bigEndian(rows, at, chunk, spec)
        put(bytes, header.length + written)
        if (checksum) dataSum = sumWords(bytes, dataSum, written)
        written += bytes.length
      }
    },
    finish(cards = spec.cards) {
      if (written !== dataLength)
        throw new RangeError(`${rowsAll} rows were announced and ${written / (dataLength / rowsAll)} written.`)
      put(Buffer.alloc(padded(dataLength) - dataLength), header.length + dataLength)
      let offset = header.length + padded(dataLength)
      for (const table of tables) {
        put(table, offset)
        offset += table.length
      }
      const last = unitHeader(structure, cards, checksum ? dataSum : null)
      if (last.length !== header.length)
        throw new RangeError('The cards given at the end take more or fewer blocks than those given before.')
      put(last, 0)
      return { length: offset }
    },
  }
}

function imageStructure({ width, height, planes = 1, bitpix, unsigned = false, extensions = [] }: NewImage): NewCard[] {
  const axes = planes === 1 ? [width, height] : [width, height, planes]
  if (!axes.every((axis) => Number.isInteger(axis) && axis > 0))
    throw new RangeError(`An image cannot measure ${axes.join(' x ')} pixels.`)
  if (unsigned && bitpix !== 16) throw new RangeError(`Only 16-bit images are written unsigned, not ${bitpix}.`)
  return [
    { keyword: 'SIMPLE', value: true, comment: 'conforms to FITS standard' },
    { keyword: 'BITPIX', value: bitpix, comment: bitpix === -32 ? '32-bit floating point' : 'bits per pixel' },
    { keyword: 'NAXIS', value: axes.length },
    ...axes.map((axis, i): NewCard => ({ keyword: `NAXIS${i + 1}`, value: axis })),
    ...(extensions.length > 0 ? [{ keyword: 'EXTEND', value: true }] : []),
    ...(unsigned
      ? [
          { keyword: 'BSCALE', value: 1 },
          { keyword: 'BZERO', value: 32768, comment: 'unsigned 16-bit integers' },
        ]
      : []),
  ]
}

function checkRows({ bitpix, unsigned = false, width }: NewImage, rows: WritableSamples, room: number): void {
  const fits =
    bitpix === 8
      ? rows instanceof Uint8Array
      : bitpix === -32
        ? rows instanceof Float32Array
        : rows instanceof (unsigned ? Uint16Array : Int16Array)
  if (!fits)
    throw new TypeError(
      `A ${rows.constructor.name} does not hold ${unsigned ? 'unsigned ' : ''}BITPIX ${bitpix} samples.`,
    )
  if (rows.length % width !== 0) throw new RangeError(`${rows.length} samples are not whole rows of ${width}.`)
  if (rows.byteLength > room) throw new RangeError('More rows than the image has.')
}

/** The next chunk of `rows` as stored bytes, in `chunk`'s memory. */
function bigEndian(rows: WritableSamples, at: number, chunk: Buffer, { unsigned, bitpix }: NewImage): Buffer {
  const part = bytesOf(rows).subarray(at, at + CHUNK_BYTES)
  part.copy(chunk)
  const bytes = chunk.subarray(0, part.length)
  if (unsigned) flipSigns(new Uint16Array(chunk.buffer, chunk.byteOffset, part.length / 2))
  swapBytes(bytes, Math.abs(bitpix) / 8)
  return bytes
}
