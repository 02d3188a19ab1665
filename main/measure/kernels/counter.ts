import { BINS, NO_DIFFERENCE, type Neighbours, type Tally } from '../tally.ts'
import { loadKernel, memoryOf } from './load.ts'

/** Counts 16-bit frames strip by strip, in memory that is laid out once and used again for every frame of that width. */
export interface Counter {
  width: number
  /** Rows that a strip may have. */
  rowRoom: number
  /** Where the big-endian words of a strip are put. */
  bytes: Uint8Array
  /** Empties everything for a new frame. */
  start(neighbours: Neighbours, picture: boolean): void
  /** Turns the first `rows` rows of `bytes` into bins, in place. */
  toBins(rows: number): void
  /** Counts `rows` rows of bins from the strip's row `from` on; the first of them is row `y` of the frame. */
  count(from: number, rows: number, y: number): void
  tally: Tally
  /** The strip as bins, after `toBins`. */
  bins: Uint16Array
  /** Sums of each column over even and over odd rows since they were last emptied (only with `picture`); the caller empties them. */
  columnSums: [Int32Array, Int32Array]
}

interface Exports {
  configure(...numbers: number[]): void
  toBins(at: number, bytes: number): void
  count(at: number, y: number, rows: number): void
}

/** Strips of this size stay in a core's second-level cache between byte swap and counting: ten times faster than a whole frame. */
const STRIP_BYTES = 256 << 10

export function createCounter(width: number): Counter {
  const rowRoom = Math.max(1, Math.floor(STRIP_BYTES / (2 * width)))
  const wide = Math.ceil(width / 8) * 8
  const histograms = 65536
  const differences = histograms + 4 * BINS * 4
  const sums = differences + 2 * NO_DIFFERENCE * 4
  const strip = sums + 2 * wide * 4 + 64
  const memory = memoryOf(strip + rowRoom * width * 2 + 64)
  const { buffer } = memory
  const kernel = new WebAssembly.Instance(loadKernel('figures16'), { env: { memory, abort: unreachable } })
    .exports as unknown as Exports
  const place = (k: number) => new Uint32Array(buffer, histograms + k * BINS * 4, BINS)
  const counted = new Uint8Array(buffer, histograms, strip - histograms)
  return {
    width,
    rowRoom,
    bytes: new Uint8Array(buffer, strip, rowRoom * width * 2),
    bins: new Uint16Array(buffer, strip, rowRoom * width),
    start({ start, reach, rowParity }, picture) {
      counted.fill(0)
      kernel.configure(histograms, differences, picture ? sums : 0, width, start, reach, rowParity)
    },
    toBins: (rows) => kernel.toBins(strip, rows * width * 2),
    count: (from, rows, y) => kernel.count(strip + from * width * 2, y, rows),
    tally: {
      places: [place(0), place(1), place(2), place(3)],
      differences: new Uint32Array(buffer, differences, 2 * NO_DIFFERENCE),
    },
    // Signed: far from 2³¹, and the engine adds up signed 32-bit numbers faster.
    columnSums: [new Int32Array(buffer, sums, width), new Int32Array(buffer, sums + wide * 4, width)],
  }
}

function unreachable(): never {
  throw new Error('a kernel gave up')
}
