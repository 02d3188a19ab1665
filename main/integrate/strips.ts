import type { ImageReader } from '../fits/image.ts'
import { atFile } from '../measure/crew-member.ts'
import { createCombiner16, createCombiner64, type Combiner, type FloatCombiner } from './kernels/combiner.ts'
import type { CombineAsk } from './job.ts'
import type { Method } from './method.ts'

/** Takes strips of rows of all frames to strips of the master, and to samples for its noise. */
export interface Stripper {
  run(strip: number): void
  /** Values left out so far. */
  leftOut(): number
}

export function createStripper(ask: CombineAsk, readers: ImageReader[]): Stripper {
  const { width, height, rowsPerStrip, method, integerZero } = ask
  const frames = readers.length
  const room = width * rowsPerStrip
  const out = new Float32Array(ask.out)
  const combiner =
    integerZero === null ? createCombiner64(frames, room, method) : createCombiner16(frames, room, integerZero, method)
  const read = 'raw' in combiner ? floatReader(ask, combiner as FloatCombiner) : integerReader(combiner)
  const sampler = ask.sample && createSampler(ask, combiner)
  let leftOut = 0
  return {
    run(strip) {
      const y = strip * rowsPerStrip
      const rows = Math.min(rowsPerStrip, height - y)
      readers.forEach((reader, k) => atFile(ask.paths[k], () => read(reader, k, y, rows)))
      leftOut += combiner.combine(rows * width)
      out.set(combiner.out.subarray(0, rows * width), y * width)
      sampler?.(strip, rows)
    },
    leftOut: () => leftOut,
  }
}

type ReadRows = (reader: ImageReader, k: number, y: number, rows: number) => void

/** 16-bit words straight from the file into the kernel's memory, swapped there. */
function integerReader(combiner: Combiner): ReadRows {
  const bytes = Array.from({ length: combiner.frames }, (_, k) => combiner.bytes(k))
  return (reader, k, y, rows) => {
    reader.readStoredRows(y, rows, bytes[k])
    combiner.swap(k, rows * reader.width)
  }
}

/** Physical values as float64, less the dark flat, times the frame's own factor; 16-bit words take a shorter way there. */
function floatReader(ask: CombineAsk, combiner: FloatCombiner): ReadRows {
  const dark = ask.dark && new Float32Array(ask.dark)
  const planes = Array.from({ length: combiner.frames }, (_, k) => combiner.plane(k))
  let darkAt = -1
  return (reader, k, y, rows) => {
    const pixels = rows * reader.width
    if (dark && darkAt !== y) {
      combiner.dark.set(dark.subarray(y * reader.width, y * reader.width + pixels))
      darkAt = y
    }
    const scale = ask.scales?.[k] ?? 1
    const zero = integerZeroOf(reader)
    if (zero !== null) {
      reader.readStoredRows(y, rows, combiner.raw)
      combiner.calibrateRaw(k, pixels, zero, scale, dark !== null)
    } else {
      reader.readRows(y, rows, planes[k])
      if (dark || scale !== 1) combiner.calibratePlane(k, pixels, scale, dark !== null)
    }
  }
}

/** BZERO of an image of 16-bit words that need nothing else to be physical values, else null. */
export function integerZeroOf(image: Pick<ImageReader, 'bitpix' | 'scaling'>): number | null {
  const { bitpix, scaling } = image
  return bitpix === 16 && scaling.exact && scaling.blankSample === null ? scaling.bzero : null
}

/**
 * From the first rows of each strip: the same integration of the even and of the odd frames alone, and the difference of the first
 * two frames. Differences cancel what is fixed in the picture; what is left is noise (noise.ts).
 */
function createSampler(ask: CombineAsk, whole: Combiner): (strip: number, rows: number) => void {
  const { width, sample, method } = ask
  const room = sample!.rows * width
  const halves = new Float32Array(sample!.halves)
  const pair = new Float32Array(sample!.pair)
  const half = (frames: number) =>
    ask.integerZero === null
      ? createCombiner64(frames, room, forHalf(method, frames))
      : createCombiner16(frames, room, ask.integerZero, forHalf(method, frames))
  const even = half(Math.ceil(whole.frames / 2))
  const odd = half(Math.floor(whole.frames / 2))
  return (strip, rows) => {
    const pixels = Math.min(rows, sample!.rows) * width
    const at = strip * room
    for (let k = 0; k < whole.frames; k++)
      (k % 2 ? odd : even).plane(k >> 1).set(whole.plane(k).subarray(0, pixels) as never)
    even.combine(pixels)
    odd.combine(pixels)
    const [a, b] = [whole.plane(0), whole.plane(1)]
    for (let i = 0; i < pixels; i++) {
      halves[at + i] = even.out[i] - odd.out[i]
      pair[at + i] = a[i] - b[i]
    }
    halves.fill(NaN, at + pixels, at + room)
    pair.fill(NaN, at + pixels, at + room)
  }
}

/** The method for half as many frames: half as many are left out at either end. */
function forHalf(method: Method, frames: number): Method {
  if (method.name !== 'minMax') return method
  const [low, high] = [Math.floor(method.low / 2), Math.floor(method.high / 2)]
  return low + high < frames ? { name: 'minMax', low, high } : { name: 'mean' }
}
