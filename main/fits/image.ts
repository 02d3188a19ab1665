import { closeSync, readSync } from 'node:fs'
import { asFitsError, FitsError } from './error.ts'
import { openForReading, readFitsInfo, type FitsInfo } from './file.ts'
import {
  bytesOf,
  bytesPerSample,
  createSamples,
  flipSigns,
  isOfType,
  scalingOf,
  swapBytes,
  toPhysical,
  type Samples,
  type SampleType,
  type Scaling,
} from './samples.ts'
import { openTiles } from './tiles.ts'
import type { Bitpix } from './structure.ts'

/** Reads stored big-endian numbers of whole rows into `out`; rows of all planes are counted through. */
export type StoredRows = (y0: number, rowCount: number, out: Buffer) => void

/**
 * An image, plain or tile-compressed, read in strips of rows. Rows are counted from the first stored one; those of the second
 * plane follow those of the first, so `y0` runs to `height * planes`.
 *
 * Two kinds of numbers come out, by the type of the array that the caller passes:
 * - **samples**: `sampleType`'s own array. Exact: integers as stored, or as unsigned (for BITPIX 8: signed) by the
 *   BZERO convention, without any other scale; undefined pixels hold `blankSample`.
 * - **physical values**: a Float32Array or Float64Array. BZERO + BSCALE × stored, undefined pixels and NaN as NaN.
 *   For a float image these are the samples as well.
 */
export class ImageReader {
  readonly info: FitsInfo
  readonly width: number
  readonly height: number
  readonly planes: number
  readonly bitpix: Bitpix
  readonly scaling: Scaling
  readonly sampleType: SampleType
  /** 16-bit unsigned samples that are the physical values: the fast path of cameras. */
  readonly unsigned16: boolean
  /** The sample that means "undefined" (BLANK), null if the header names none. */
  readonly blankSample: number | bigint | null
  readonly bytesPerRow: number
  readonly #fd: number
  readonly #stored: StoredRows
  #scratch: Samples | null = null

  constructor(fd: number, info: FitsInfo) {
    const { image, imageUnit } = info
    if (!image || !imageUnit)
      throw new FitsError('no-image', 'This FITS file holds no image: choose a file that the camera wrote.')
    this.info = info
    this.width = image.width
    this.height = image.height
    this.planes = image.planes
    this.bitpix = image.bitpix
    this.scaling = scalingOf(info.header, image.bitpix)
    this.sampleType = this.scaling.sampleType
    this.unsigned16 = this.sampleType === 'uint16'
    this.blankSample = this.scaling.blankSample
    this.bytesPerRow = this.width * bytesPerSample(this.bitpix)
    this.#fd = fd
    this.#stored =
      info.imageCompression === null
        ? plainRows(fd, info, this.bytesPerRow)
        : openTiles(fd, info.fileSize, imageUnit, image)
  }

  get header() {
    return this.info.header
  }

  /** Rows of all planes. */
  get rows(): number {
    return this.height * this.planes
  }

  /** An array for `rowCount` rows of samples. */
  createRows(rowCount: number): Samples {
    return createSamples(this.sampleType, rowCount * this.width)
  }

  /**
   * Reads rows `y0` … `y0 + rowCount - 1` into the start of `out`, which the caller owns and may reuse.
   * @param out of `sampleType` for samples, Float32Array or Float64Array for physical values
   * @throws FitsError `data-cut`, `tile-bad`, `unreadable`; RangeError and TypeError for a caller's slip
   */
  readRows(y0: number, rowCount: number, out: Samples): void {
    this.#checkRows(y0, rowCount, out.length, rowCount * this.width)
    const target = out.subarray(0, rowCount * this.width) as Samples
    const physical = target instanceof Float32Array || target instanceof Float64Array
    if (isOfType(target, this.sampleType)) {
      this.#readSamples(y0, rowCount, target)
      if (physical && !this.scaling.exact) toPhysical(target, this.scaling, target)
    } else if (physical) {
      const samples = this.#scratchFor(target.length)
      this.#readSamples(y0, rowCount, samples)
      toPhysical(samples, this.scaling, target)
    } else {
      throw new TypeError(`Rows of ${this.sampleType} samples do not go into a ${out.constructor.name}.`)
    }
  }

  /** Reads rows as they are stored: big-endian, unscaled, unsigned flip not undone. For kernels that swap by themselves. */
  readStoredRows(y0: number, rowCount: number, out: Uint8Array): void {
    const length = rowCount * this.bytesPerRow
    this.#checkRows(y0, rowCount, out.length, length)
    this.#read(y0, rowCount, bytesOf(out).subarray(0, length))
  }

  /** All samples of all planes. */
  readAll(): Samples {
    const out = this.createRows(this.rows)
    this.#readSamples(0, this.rows, out)
    if (!this.scaling.exact && (out instanceof Float32Array || out instanceof Float64Array))
      toPhysical(out, this.scaling, out)
    return out
  }

  close(): void {
    closeSync(this.#fd)
  }

  [Symbol.dispose](): void {
    this.close()
  }

  #readSamples(y0: number, rowCount: number, out: Samples): void {
    const bytes = bytesOf(out)
    this.#read(y0, rowCount, bytes)
    swapBytes(bytes, bytesPerSample(this.bitpix))
    if (this.scaling.flipped) flipSigns(out)
  }

  #read(y0: number, rowCount: number, out: Buffer): void {
    try {
      this.#stored(y0, rowCount, out)
    } catch (error) {
      throw asFitsError(error)
    }
  }

  #scratchFor(length: number): Samples {
    if (!this.#scratch || this.#scratch.length < length) this.#scratch = createSamples(this.sampleType, length)
    return this.#scratch.subarray(0, length) as Samples
  }

  #checkRows(y0: number, rowCount: number, room: number, needed: number): void {
    if (!Number.isInteger(y0) || !Number.isInteger(rowCount) || y0 < 0 || rowCount < 0 || y0 + rowCount > this.rows)
      throw new RangeError(`Rows ${y0} to ${y0 + rowCount - 1} are not all in an image of ${this.rows} rows.`)
    if (room < needed) throw new RangeError(`${needed} elements do not fit into an array of ${room}.`)
  }
}

/**
 * Opens the image of a FITS file; close it after use (or `using image = openImage(path)`).
 * @throws FitsError `no-image`, `data-cut`, `compression` (PLIO_1, HCOMPRESS_1, quantised floats), and what `readFitsInfo` throws
 */
export function openImage(path: string): ImageReader {
  const fd = openForReading(path)
  try {
    return new ImageReader(fd, readFitsInfo(fd))
  } catch (error) {
    closeSync(fd)
    throw error
  }
}

/** Rows of a plain image: one positioned read, straight into the caller's memory. */
function plainRows(fd: number, info: FitsInfo, bytesPerRow: number): StoredRows {
  const { dataOffset, dataLength } = info.imageUnit!
  if (dataOffset + dataLength > info.fileSize) throw dataCut()
  return (y0, rowCount, out) => {
    const length = rowCount * bytesPerRow
    const offset = dataOffset + y0 * bytesPerRow
    for (let have = 0; have < length;) {
      const got = readSync(fd, out, have, length - have, offset + have)
      if (got === 0) throw dataCut()
      have += got
    }
  }
}

function dataCut(): FitsError {
  return new FitsError(
    'data-cut',
    'This file ends before its image does: copy it again from the camera computer, or leave it out.',
  )
}
