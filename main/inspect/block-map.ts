import { selectSmallest } from '../measure/select.ts'

/**
 * The ratio of two frames as a map of blocks: large enough that noise stays small against the changes looked for, small
 * enough that a dust shadow fills several. All ratios are fractions about 1.
 */

/** A frame in stored order. `cfa` tells whether a 2 × 2 colour filter array lies over it. */
export interface Plane {
  data: ArrayLike<number>
  width: number
  height: number
  cfa: boolean
}

export interface BlockMap {
  /** Deviation of each block's ratio from 1, row by row; NaN where a block has no usable pixel. */
  deviation: Float64Array
  columns: number
  rows: number
  /** Size of the frame under it, px; a rest smaller than a block at the right and lower edge is left out. */
  width: number
  height: number
  /** Edge of a block, px (even, so that it holds whole colour cells). */
  blockPx: number
  /** Mean ratio of each of the four colour cells (all equal for mono), in the order of stored pixels: (0,0) (1,0) (0,1) (1,1). */
  cellRatio: [number, number, number, number]
  /** Noise of one pixel's ratio, and of one block's. */
  pixelNoise: number
  blockNoise: number
}

/** Pixels further from 1 than this plus six times the noise are hot pixels or cosmic rays, unless most of a block is. */
const wild = 0.1
/** And so are pixels this many noises from the mean of their block, unless they are many: the faint end of a cosmic ray. */
const strayNoises = 5

/**
 * Divides `fresh` by `master`, each colour cell by its own mean ratio, and averages over blocks.
 * A brighter panel, or one of another colour, therefore changes nothing but `cellRatio`.
 * @param fresh calibrated frame, ADU
 * @param master of equal size; pixels at or below zero are left out
 * @throws RangeError for unequal sizes or frames under one block
 */
export function ratioBlocks(fresh: Plane, master: Plane, blockPx = 8): BlockMap {
  if (fresh.width !== master.width || fresh.height !== master.height)
    throw new RangeError(
      `The frame is ${fresh.width} × ${fresh.height} px and the master ${master.width} × ${master.height} px: they must be of one size.`,
    )
  const { width, height } = fresh
  const columns = Math.floor(width / blockPx)
  const rows = Math.floor(height / blockPx)
  if (columns < 2 || rows < 2) throw new RangeError(`The frame is too small for blocks of ${blockPx} px.`)
  const cellRatio = meanRatios(fresh, master)
  const pixelNoise = ratioNoise(fresh, master, cellRatio)
  const deviation = new Float64Array(columns * rows)
  const limit = wild + 6 * pixelNoise
  const inverse = cellRatio.map((r) => 1 / r)
  const near = new Float64Array(blockPx * blockPx)
  for (let by = 0; by < rows; by++)
    for (let bx = 0; bx < columns; bx++) {
      const x0 = bx * blockPx
      let kept = 0
      let keptSum = 0
      let all = 0
      let allSum = 0
      for (let y = by * blockPx; y < (by + 1) * blockPx; y++) {
        const even = inverse[(y & 1) << 1]
        const odd = inverse[((y & 1) << 1) | 1]
        for (let i = y * width + x0, end = i + blockPx, x = x0; i < end; i++, x++) {
          const m = master.data[i]
          if (!(m > 0)) continue
          const d = (fresh.data[i] / m) * (x & 1 ? odd : even) - 1
          all++
          allSum += d
          if (d < limit && d > -limit) {
            near[kept++] = d
            keptSum += d
          }
        }
      }
      const mean = kept * 2 > all ? withoutStrays(near, kept, keptSum / kept, strayNoises * pixelNoise) : allSum / all
      deviation[by * columns + bx] = all ? mean : NaN
    }
  return { deviation, columns, rows, width, height, blockPx, cellRatio, pixelNoise, blockNoise: pixelNoise / blockPx }
}

/** Mean of those within `reach` of the mean of all, where they are more than half. */
function withoutStrays(values: Float64Array, count: number, mean: number, reach: number): number {
  let kept = 0
  let sum = 0
  for (let i = 0; i < count; i++) {
    const d = values[i] - mean
    if (d <= reach && d >= -reach) {
      kept++
      sum += d
    }
  }
  return kept * 2 > count ? mean + sum / kept : mean
}

/** Ratio of the sums over each colour cell: noise of single pixels does not bias it. */
function meanRatios(fresh: Plane, master: Plane): BlockMap['cellRatio'] {
  const above = new Float64Array(4)
  const below = new Float64Array(4)
  const { width, height } = fresh
  for (let y = 0, i = 0; y < height; y++)
    for (let x = 0; x < width; x++, i++) {
      const m = master.data[i]
      if (!(m > 0)) continue
      const cell = ((y & 1) << 1) | (x & 1)
      above[cell] += fresh.data[i]
      below[cell] += m
    }
  const ratio = (a: number, b: number) => {
    if (!(a > 0 && b > 0)) throw new RangeError('The frame or the master holds no light: is it really a flat?')
    return a / b
  }
  if (fresh.cfa) return [0, 1, 2, 3].map((c) => ratio(above[c], below[c])) as BlockMap['cellRatio']
  const sum = (a: Float64Array) => a.reduce((s, v) => s + v, 0)
  const mean = ratio(sum(above), sum(below))
  return [mean, mean, mean, mean]
}

/** 1.4826 × MAD of differences between neighbours of one colour, over √2, on every 16th row: structure cancels. */
function ratioNoise(fresh: Plane, master: Plane, cellRatio: readonly number[]): number {
  const { width, height } = fresh
  const differences = new Float64Array(Math.ceil(height / 16) * Math.ceil(width / 3))
  let n = 0
  for (let y = 0; y < height; y += 16)
    for (let x = 0; x + 2 < width; x += 3) {
      const i = y * width + x
      const r = cellRatio[((y & 1) << 1) | (x & 1)]
      const d = (fresh.data[i] / master.data[i] - fresh.data[i + 2] / master.data[i + 2]) / r
      if (Number.isFinite(d)) differences[n++] = Math.abs(d)
    }
  return n ? (1.4826 * selectSmallest(differences.subarray(0, n), n >> 1)) / Math.SQRT2 : 0
}

/** Merges blocks two by two until their noise is at most `noise`. */
export function coarsened(map: BlockMap, noise: number): BlockMap {
  let out = map
  while (out.blockNoise > noise && Math.min(out.columns, out.rows) >= 16) {
    const columns = out.columns >> 1
    const rows = out.rows >> 1
    const deviation = new Float64Array(columns * rows)
    for (let r = 0; r < rows; r++)
      for (let c = 0; c < columns; c++) {
        const i = 2 * r * out.columns + 2 * c
        const d = out.deviation
        deviation[r * columns + c] = (d[i] + d[i + 1] + d[i + out.columns] + d[i + out.columns + 1]) / 4
      }
    out = { ...out, deviation, columns, rows, blockPx: out.blockPx * 2, blockNoise: out.blockNoise / 2 }
  }
  return out
}
