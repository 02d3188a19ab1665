import { medianOfValues } from '../measure/select.ts'
import type { Plane } from './block-map.ts'

/** The background of a frame as medians of blocks: stars and cosmic rays drop out. Values in the frame's own unit. */
export interface BackgroundMap {
  /** Row by row; each colour cell is taken relative to its own level. */
  value: Float64Array
  columns: number
  rows: number
  blockPx: number
  width: number
  height: number
  /** Median of each colour cell in stored order, (0,0) (1,0) (0,1) (1,1): what was taken away. */
  cellLevel: [number, number, number, number]
}

/**
 * Medians over blocks of `blockPx`, from a checkerboard of colour cells (half of the pixels, 512 of a block of 32): its noise is
 * some 0.055 of a pixel's. Blocks that do not fit at the right and lower edge are left out.
 */
export function backgroundMap(frame: Plane, blockPx = 32): BackgroundMap {
  const { width, height } = frame
  const columns = Math.floor(width / blockPx)
  const rows = Math.floor(height / blockPx)
  if (columns < 3 || rows < 3)
    throw new RangeError(`The frame is ${width} × ${height} px: too small to judge its background.`)
  const cellLevel = cellLevels(frame)
  const value = new Float64Array(columns * rows)
  const sample = new Float64Array(blockPx * blockPx)
  for (let row = 0; row < rows; row++)
    for (let column = 0; column < columns; column++) {
      let n = 0
      for (let dy = 0; dy < blockPx; dy += 2)
        // Every other colour cell, shifted from line to line; each whole, so that the colours stay in balance.
        for (let dx = (dy & 2) as number; dx < blockPx; dx += 4) {
          const i = (row * blockPx + dy) * width + column * blockPx + dx
          sample[n++] = frame.data[i] - cellLevel[0]
          sample[n++] = frame.data[i + 1] - cellLevel[1]
          sample[n++] = frame.data[i + width] - cellLevel[2]
          sample[n++] = frame.data[i + width + 1] - cellLevel[3]
        }
      value[row * columns + column] = medianOf(sample.subarray(0, n))
    }
  return { value, columns, rows, blockPx, width, height, cellLevel }
}

export type Channel = 'R' | 'G' | 'B'

/**
 * One colour of a frame at half its width and height; where a 2 × 2 cell holds it twice (green), the mean of the two.
 * @param letters of the colour filter array from the first stored pixel ("RGGB"), with R, G and B among them
 */
export function channelPlane({ data, width, height }: Plane, letters: string, channel: Channel): Plane {
  const offsets = [0, 1, width, width + 1].filter((_, place) => letters[place] === channel)
  // A colour that a cell holds once is averaged with itself: a loop over the places took five times as long.
  const [first, last] = [offsets[0], offsets[offsets.length - 1]]
  const [columns, rows] = [width >> 1, height >> 1]
  const out = new Float32Array(columns * rows)
  for (let y = 0, o = 0; y < rows; y++)
    for (let x = 0, i = 2 * y * width; x < columns; x++, i += 2) out[o++] = (data[i + first] + data[i + last]) / 2
  return { data: out, width: columns, height: rows, cfa: false }
}

/** Median of each colour cell, from at most some 20 000 pixels of each; for mono all four are the median of the frame. */
export function cellLevels(frame: Plane): [number, number, number, number] {
  const { width, height } = frame
  const stride = 2 * Math.max(1, Math.round(Math.sqrt((width * height) / 4 / 20_000)))
  const at = (offset: number) => {
    const values: number[] = []
    for (let y = 0; y + 1 < height; y += stride)
      for (let x = 0; x + 1 < width; x += stride) values.push(frame.data[y * width + x + offset])
    return values
  }
  const cells = [0, 1, width, width + 1].map(at)
  if (frame.cfa) return cells.map((c) => medianOf(Float64Array.from(c))) as [number, number, number, number]
  const all = medianOf(Float64Array.from(cells.flat()))
  return [all, all, all, all]
}

/** Median (mean of the middle two) of the numbers that are not NaN; reorders its argument. */
export function medianOf(values: Float64Array): number {
  let n = 0
  for (let i = 0; i < values.length; i++) if (!Number.isNaN(values[i])) values[n++] = values[i]
  return medianOfValues(values.subarray(0, n))
}

/**
 * Noise of one pixel: 1.4826 × MAD of differences between neighbours of one colour, over √2. Stars and gradients cancel.
 */
export function pixelNoise(frame: Plane): number {
  const step = frame.cfa ? 2 : 1
  const stride = Math.max(1, Math.floor(frame.height / 200))
  const differences: number[] = []
  for (let y = 0; y < frame.height; y += stride)
    for (let x = 0; x + step < frame.width; x += 5) {
      const i = y * frame.width + x
      const d = frame.data[i + step] - frame.data[i]
      if (Number.isFinite(d)) differences.push(Math.abs(d))
    }
  return (1.4826 * medianOf(Float64Array.from(differences))) / Math.SQRT2
}

/**
 * Least squares of a map on several shapes of the same blocks, refitted three times without what lies more than three
 * robust sigma off (nebulae, bright stars).
 * @returns one coefficient and standard error per shape, and the residual's robust sigma
 */
export function regress(
  value: Float64Array,
  shapes: Float64Array[],
): { coefficient: number[]; error: number[]; sigma: number } {
  const n = shapes.length
  let coefficient: number[] = new Array(n).fill(0)
  let error: number[] = new Array(n).fill(Infinity)
  let limit = Infinity
  let sigma = 0
  for (let round = 0; round < 4; round++) {
    const a = Array.from({ length: n }, () => new Array<number>(2 * n).fill(0))
    const b = new Array<number>(n).fill(0)
    let used = 0
    let squares = 0
    for (let i = 0; i < value.length; i++) {
      const off = value[i] - shapes.reduce((sum, shape, k) => sum + coefficient[k] * shape[i], 0)
      if (!(Math.abs(off) <= limit)) continue
      used++
      squares += off * off
      for (let j = 0; j < n; j++) {
        b[j] += shapes[j][i] * value[i]
        for (let k = 0; k < n; k++) a[j][k] += shapes[j][i] * shapes[k][i]
      }
    }
    const inverse = invert(a)
    coefficient = inverse.map((row) => row.reduce((sum, v, k) => sum + v * b[k], 0))
    error = inverse.map((row, k) => Math.sqrt((Math.max(0, row[k]) * squares) / Math.max(1, used - n)))
    const off = value.map((v, i) => Math.abs(v - shapes.reduce((sum, shape, k) => sum + coefficient[k] * shape[i], 0)))
    sigma = 1.4826 * medianOf(off)
    limit = Math.max(3 * sigma, 1e-12)
  }
  return { coefficient, error, sigma }
}

/** Mean over a square of `reach` blocks to each side (0.5 means one block), clipped at the edges. */
export function smoothed(values: Float64Array, columns: number, rows: number, reach: number): Float64Array {
  const r = Math.max(1, Math.round(reach))
  const out = new Float64Array(values.length)
  for (let y = 0; y < rows; y++)
    for (let x = 0; x < columns; x++) {
      let sum = 0
      let n = 0
      for (let v = Math.max(0, y - r); v <= Math.min(rows - 1, y + r); v++)
        for (let u = Math.max(0, x - r); u <= Math.min(columns - 1, x + r); u++) {
          sum += values[v * columns + u]
          n++
        }
      out[y * columns + x] = sum / n
    }
  return out
}

/** Gauss–Jordan inverse; a shape that is zero everywhere gets the coefficient zero. `m` is n rows of 2n. */
function invert(m: number[][]): number[][] {
  const n = m.length
  for (let j = 0; j < n; j++) m[j][n + j] = 1
  for (let j = 0; j < n; j++) {
    let pivot = j
    for (let r = j + 1; r < n; r++) if (Math.abs(m[r][j]) > Math.abs(m[pivot][j])) pivot = r
    ;[m[j], m[pivot]] = [m[pivot], m[j]]
    const p = m[j][j]
    if (Math.abs(p) < 1e-12) {
      m[j].fill(0)
      continue
    }
    for (let k = 0; k < 2 * n; k++) m[j][k] /= p
    for (let r = 0; r < n; r++) {
      if (r === j || m[r][j] === 0) continue
      const factor = m[r][j]
      for (let k = 0; k < 2 * n; k++) m[r][k] -= factor * m[j][k]
    }
  }
  return m.map((row) => row.slice(n))
}
