import { loadKernel, memoryOf } from '../../measure/kernels/load.ts'
import { checkMethod, type Method } from '../method.ts'
import { mergeExchange } from '../network.ts'

/**
 * One strip of pixels of every frame, in WebAssembly memory that is laid out once and used again for every strip.
 * Planes are filled by the caller through the views; `combine` takes them to `out`.
 */
export interface Combiner {
  frames: number
  /** Pixels that a strip may have. */
  room: number
  /** Native 16-bit (signed) or float64 words of frame `k`. */
  plane(k: number): Int16Array | Float64Array
  /** The same memory as bytes, for reading big-endian 16-bit words from a file; `swap(k, pixels)` then puts them right. */
  bytes(k: number): Uint8Array
  swap(k: number, pixels: number): void
  /** Result of `combine`; NaN where no frame had a value. */
  out: Float32Array
  /** @returns how many values were left out by the method */
  combine(pixels: number): number
}

/** Float64 planes, and what flats need on the way there. */
export interface FloatCombiner extends Combiner {
  plane(k: number): Float64Array
  /** Room for one strip of big-endian 16-bit words, and for the strip of the master to subtract. */
  raw: Uint8Array
  dark: Float32Array
  /** Plane k = (raw + zero − dark) × scale; `raw` is swapped in place. */
  calibrateRaw(k: number, pixels: number, zero: number, scale: number, subtract: boolean): void
  /** Plane k = (plane k − dark) × scale. */
  calibratePlane(k: number, pixels: number, scale: number, subtract: boolean): void
}

interface Exports {
  configure(...numbers: number[]): void
  combine(pixels: number, out: number): number
}
interface Exports16 extends Exports {
  swapBytes(at: number, bytes: number): void
}
interface Exports64 extends Exports {
  calibrate16(from: number, pixels: number, zero: number, dark: number, scale: number, to: number): void
  calibrate64(at: number, pixels: number, dark: number, scale: number): void
}

const METHOD_CODE = { mean: 0, median: 1, sigmaClip: 2, madClip: 3, minMax: 4 } as const

/** Gives out addresses one after another, on cache lines; the kernels' own few bytes lie below the first page. */
class Layout {
  end = 65536
  take(bytes: number): number {
    const at = this.end
    this.end += Math.ceil(bytes / 64) * 64
    return at
  }
}

interface Parts {
  network: number
  pairs: [number, number][]
  sorted: number
  sums: number
  work: number
  out: number
  planes: number
  stride: number
}

/** Bytes that strips of `pixels` pixels take for so many frames. */
export function stripBytes(frames: number, pixels: number, wordBytes: 2 | 8): number {
  return frames * (pixels * wordBytes + 128) + pixels * (4 + (wordBytes === 8 ? 6 : 0))
}

function layOut(layout: Layout, frames: number, pixels: number, wordBytes: number): Parts {
  const pairs = mergeExchange(frames)
  // An odd number of lines, so that the same pixel of different frames does not fall into the same cache set.
  const lines = Math.ceil((pixels * wordBytes + 64) / 64)
  const stride = (lines + 1 - (lines % 2)) * 64
  return {
    network: layout.take(pairs.length * 8),
    pairs,
    sorted: layout.take(frames * 64),
    sums: layout.take(256),
    work: layout.take(frames * 16),
    out: layout.take(pixels * 4 + 128),
    planes: layout.take(frames * stride),
    stride,
  }
}

function configure(kernel: Exports, memory: WebAssembly.Memory, parts: Parts, frames: number, zero: number, m: Method) {
  const words = new Uint32Array(memory.buffer, parts.network, parts.pairs.length * 2)
  parts.pairs.forEach(([a, b], i) => words.set([a * 64, b * 64], i * 2))
  const limits = 'low' in m ? m : { low: 0, high: 0 }
  kernel.configure(
    frames,
    parts.planes,
    parts.stride,
    zero,
    METHOD_CODE[m.name],
    limits.low,
    limits.high,
    'rounds' in m ? Math.min(m.rounds, 1e6) : 0,
    m.name === 'madClip' ? m.leastSigma : 0,
    parts.network,
    parts.pairs.length,
    parts.sorted,
    parts.sums,
    parts.work,
  )
}

/**
 * For frames of signed 16-bit words whose physical value is the word plus `zero` (32768 for unsigned cameras, else 0).
 * Results equal column.ts to the last bit.
 */
export function createCombiner16(frames: number, pixels: number, zero: number, method: Method): Combiner {
  checkMethod(method, frames)
  const layout = new Layout()
  const parts = layOut(layout, frames, pixels, 2)
  const memory = memoryOf(layout.end)
  const kernel = instantiate<Exports16>('combine16', memory)
  configure(kernel, memory, parts, frames, zero, method)
  const { buffer } = memory
  const at = (k: number) => parts.planes + k * parts.stride
  return {
    frames,
    room: pixels,
    plane: (k) => new Int16Array(buffer, at(k), pixels),
    bytes: (k) => new Uint8Array(buffer, at(k), pixels * 2),
    swap: (k, count) => kernel.swapBytes(at(k), count * 2),
    out: new Float32Array(buffer, parts.out, pixels),
    combine: (count) => kernel.combine(count, parts.out),
  }
}

/**
 * For everything else: float64 planes. Values that are not finite count as absent. Results equal column.ts within float32's
 * rounding (sums are taken in sorted order); which values are left out is decided the same way.
 */
export function createCombiner64(frames: number, pixels: number, method: Method): FloatCombiner {
  checkMethod(method, frames)
  const layout = new Layout()
  const parts = layOut(layout, frames, pixels, 8)
  const raw = layout.take(pixels * 2 + 64)
  const dark = layout.take(pixels * 4 + 64)
  const memory = memoryOf(layout.end)
  const kernel = instantiate<Exports64>('combine64', memory)
  const swapper = instantiate<Exports16>('combine16', memory)
  configure(kernel, memory, parts, frames, 0, method)
  const { buffer } = memory
  const at = (k: number) => parts.planes + k * parts.stride
  return {
    frames,
    room: pixels,
    plane: (k) => new Float64Array(buffer, at(k), pixels),
    bytes: (k) => new Uint8Array(buffer, at(k), pixels * 8),
    swap: (k, count) => kernel64Swap(buffer, at(k), count),
    raw: new Uint8Array(buffer, raw, pixels * 2),
    dark: new Float32Array(buffer, dark, pixels),
    calibrateRaw(k, count, zero, scale, subtract) {
      swapper.swapBytes(raw, count * 2)
      kernel.calibrate16(raw, count, zero, subtract ? dark : 0, scale, at(k))
    },
    calibratePlane: (k, count, scale, subtract) => kernel.calibrate64(at(k), count, subtract ? dark : 0, scale),
    out: new Float32Array(buffer, parts.out, pixels),
    combine: (count) => kernel.combine(count, parts.out),
  }
}

function kernel64Swap(buffer: ArrayBuffer, at: number, count: number): void {
  Buffer.from(buffer, at, count * 8).swap64()
}

function instantiate<E>(name: string, memory: WebAssembly.Memory): E {
  const { exports } = new WebAssembly.Instance(loadKernel(name), { env: { memory, abort: unreachable } })
  return exports as unknown as E
}

function unreachable(): never {
  throw new Error('a kernel gave up')
}
