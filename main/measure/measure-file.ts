import { createHash, type Hash } from 'node:crypto'
import { fstatSync, closeSync, readSync, statSync } from 'node:fs'
import { openForReading } from '../fits/file.ts'
import { openImage, type ImageReader } from '../fits/image.ts'
import { FitsError } from '../fits/error.ts'
import type { Scaling } from '../fits/samples.ts'
import type { Figures } from '../contract/index.ts'
import { levelsOfValues } from './float-levels.ts'
import { createCounter, type Counter } from './kernels/counter.ts'
import { levelsOfTally, type FrameShape, type Levels } from './levels.ts'
import { neighboursOf } from './tally.ts'
import {
  createPicture,
  encodePicture,
  fillRow,
  parities,
  shrinkFactor,
  shrinkValues,
  type SmallPicture,
} from './thumbnail.ts'

export interface MeasureAsk {
  path: string
  /** Four letters from the first stored pixel, row by row (Frame.cfa); null for mono. */
  cfa: string | null
  thumbnail: boolean
  /** Hash the whole file on the way. */
  hash: boolean
}

export interface Measured {
  figures: Figures
  /** Smallest difference between two levels, ADU; null for float images. */
  step: number | null
  /** PNG, about 420 pixels wide. */
  thumbnail: Uint8Array | null
  /** Of the whole file, hex. */
  sha256: string | null
  /** Size and time of the file, equal before and after. */
  size: number
  mtimeMs: number
}

/**
 * Figures, picture and hash of one frame in one pass.
 * @throws FitsError for what is wrong with the file, `changed` where it was written to meanwhile
 */
export function measureFile(ask: MeasureAsk): Measured {
  const before = statSync(ask.path)
  using image = openImage(ask.path)
  const hash = ask.hash ? createHash('sha256') : null
  const shape = { width: image.width, height: image.height * image.planes, cfa: image.planes === 1 ? ask.cfa : null }
  const factor = shrinkFactor(shape)
  const picture = ask.thumbnail ? createPicture(shape, factor) : null
  const plain = image.info.imageCompression === null
  const isShort = image.bitpix === 16 && Math.abs(image.scaling.bscale) === 1 && image.scaling.bscale > 0
  const streamed = isShort && plain ? hash : null
  if (streamed) hashRange(streamed, ask.path, 0, image.info.imageUnit!.dataOffset)
  const levels = isShort
    ? countImage(image, shape, factor, picture, streamed)
    : readImage(image, shape, factor, picture)
  if (streamed) hashRange(streamed, ask.path, dataEnd(image), Infinity)
  else if (hash) hashRange(hash, ask.path, 0, Infinity)
  const after = statSync(ask.path)
  if (after.size !== before.size || after.mtimeMs !== before.mtimeMs || after.ino !== before.ino)
    throw new FitsError('data-cut', 'This file was changed while it was being measured: it will be measured again.')
  return {
    figures: levels.figures,
    step: levels.step,
    thumbnail: picture && encodePicture(picture, levels),
    sha256: hash && hash.digest('hex'),
    size: after.size,
    mtimeMs: after.mtimeMs,
  }
}

function dataEnd({ info }: ImageReader): number {
  return info.imageUnit!.dataOffset + info.imageUnit!.dataLength
}

const chunk = Buffer.allocUnsafeSlow(1 << 20)

function hashRange(hash: Hash, path: string, from: number, end: number): void {
  const fd = openForReading(path)
  try {
    const stop = Math.min(end, fstatSync(fd).size)
    for (let at = from; at < stop;) {
      const got = readSync(fd, chunk, 0, Math.min(chunk.length, stop - at), at)
      if (got === 0) break
      hash.update(chunk.subarray(0, got))
      at += got
    }
  } finally {
    closeSync(fd)
  }
}

let counter: Counter | null = null

/** 16-bit words: counted in a kernel, a strip at a time. */
function countImage(
  image: ImageReader,
  shape: FrameShape,
  factor: number,
  picture: SmallPicture | null,
  hash: Hash | null,
): Levels {
  const { width, height, cfa } = shape
  if (counter?.width !== width) counter = createCounter(width)
  const { rowRoom, bytes, tally } = counter
  const { scaling } = image
  const base = scaling.bzero - 32768
  counter.start(neighboursOf(cfa), picture !== null)
  for (let y = 0; y < height; y += rowRoom) {
    const rows = Math.min(rowRoom, height - y)
    image.readStoredRows(y, rows, bytes)
    hash?.update(bytes.subarray(0, rows * width * 2))
    counter.toBins(rows)
    if (picture) countWithPicture(counter, y, rows, factor, picture, base, cfa)
    else counter.count(0, rows, y)
  }
  return levelsOfTally(tally, shape, base, blankBin(scaling))
}

/** Counts up to each border of a picture row, and there turns the column sums into one. */
function countWithPicture(
  counter: Counter,
  y: number,
  rows: number,
  factor: number,
  picture: SmallPicture,
  base: number,
  cfa: string | null,
): void {
  for (let from = 0; from < rows;) {
    const toBorder = factor - ((y + from) % factor)
    const some = Math.min(toBorder, rows - from)
    counter.count(from, some, y + from)
    from += some
    if (some < toBorder) continue
    const row = (y + from) / factor - 1
    if (row < picture.height) fillRow(picture, row, factor, counter.columnSums, parities(row, factor), base, cfa)
    for (const sums of counter.columnSums) sums.fill(0)
  }
}

/** Everything else: all physical values at once. */
function readImage(image: ImageReader, shape: FrameShape, factor: number, picture: SmallPicture | null): Levels {
  const { width, height, cfa } = shape
  const values = new (image.bitpix === -32 ? Float32Array : Float64Array)(width * height)
  image.readRows(0, height, values)
  if (picture) shrinkValues(values, width, factor, picture, cfa)
  return levelsOfValues(values, shape)
}

/** Bin of the undefined pixels' word; samples of the unsigned convention are bins already. */
function blankBin({ blankSample, flipped }: Scaling): number | null {
  return blankSample === null ? null : Number(blankSample) + (flipped ? 0 : 32768)
}
