import { medianOfValues } from '../measure/select.ts'
import { BlockMedian } from './block-median.ts'
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
  /** Pixels that each median was taken of. */
  sampled: number
}

export type Channel = (typeof CHANNELS)[number]

/** Edge of a block, px. */
const blockPx = 32
/** Pixels of one colour cell that a block gives. */
const cellPixels = blockPx ** 2 / 8

/**
 * Medians over blocks of 32 px, from a checkerboard of colour cells (half of the pixels, 512 of a block): its noise is
 * some 0.055 of a pixel's. Blocks that do not fit at the right and lower edge are left out.
 * @param less a frame of equal size to be taken away first
 */
export const backgroundMap = (frame: Plane, less: Plane | null = null): BackgroundMap => mapsOf(frame, less, null).whole

/**
 * The same, and each colour alone, from the same pixels.
 * @param letters of the colour filter array from the first stored pixel ("RGGB"), with R, G and B among them
 */
export function backgroundMaps(frame: Plane, letters: string) {
  const { whole, channels } = mapsOf(frame, null, letters)
  return { whole, channels: channels! }
}

function mapsOf(frame: Plane, less: Plane | null, letters: string | null) {
  const { width, height } = frame
  const columns = Math.floor(width / blockPx)
  const rows = Math.floor(height / blockPx)
  if (columns < 3 || rows < 3)
    throw new RangeError(`The frame is ${width} × ${height} px: too small to judge its background.`)
  const cellLevel = cellLevels(frame, less)
  const create = (cells: number): BackgroundMap => ({
    ...{ value: new Float64Array(columns * rows), columns, rows, blockPx, width, height, cellLevel },
    sampled: cells * cellPixels,
  })
  const median = () => new BlockMedian(4 * cellPixels)
  const whole = { map: create(4), median: median() }
  // Cells of one colour side by side in the sample.
  const order = [0, 1, 2, 3].sort((a, b) => (letters ? letters.charCodeAt(a) - letters.charCodeAt(b) : a - b))
  const colours = (letters ? CHANNELS : []).map((channel) => {
    const from = order.findIndex((place) => letters![place] === channel)
    const cells = order.filter((place) => letters![place] === channel).length
    return { channel, map: create(cells), median: median(), from: from * cellPixels, end: (from + cells) * cellPixels }
  })
  const cells = order.map((place) => ({ offset: (place & 1) + (place >> 1) * width, level: cellLevel[place] }))
  const sample = new Float64Array(4 * cellPixels)
  for (let row = 0, block = 0; row < rows; row++)
    for (let column = 0; column < columns; column++, block++) {
      const corner = row * blockPx * width + column * blockPx
      for (const [k, { offset, level }] of cells.entries())
        gather(frame.data, less?.data ?? null, corner + offset, width, level, sample, k * cellPixels)
      for (const { map, median, from, end } of colours) map.value[block] = median.of(sample, from, end)
      whole.map.value[block] = whole.median.of(sample)
    }
  const channels = letters ? (Object.fromEntries(colours.map(({ channel, map }) => [channel, map])) as Maps) : null
  return { whole: whole.map, channels }
}

const CHANNELS = ['R', 'G', 'B'] as const
type Maps = Record<Channel, BackgroundMap>

/** One colour cell's pixels of a block: every other one of its colour, shifted from line to line. */
function gather(
  data: ArrayLike<number>,
  less: ArrayLike<number> | null,
  from: number,
  width: number,
  level: number,
  sample: Float64Array,
  at: number,
): void {
  for (let dy = 0; dy < blockPx; dy += 2)
    for (let i = from + dy * width + (dy & 2), end = from + dy * width + blockPx - 2; i <= end; i += 4)
      sample[at++] = less === null ? data[i] - level : data[i] - less[i] - level
}

/**
 * Median of each colour cell, from at most some 20 000 pixels of each; for mono all four are the median of the frame.
 * @param less a frame of equal size to be taken away first
 */
export function cellLevels({ data, width, height, cfa }: Plane, less: Plane | null = null): BackgroundMap['cellLevel'] {
  const stride = 2 * Math.max(1, Math.round(Math.sqrt((width * height) / 4 / 20_000)))
  const [across, down] = [Math.ceil((width - 1) / stride), Math.ceil((height - 1) / stride)]
  const perCell = across * down
  const values = new Float64Array(4 * perCell)
  for (const [cell, offset] of [0, 1, width, width + 1].entries())
    for (let y = 0, n = cell * perCell; y + 1 < height; y += stride)
      for (let x = 0; x + 1 < width; x += stride, n++) {
        const i = y * width + x + offset
        values[n] = data[i] - (less ? less.data[i] : 0)
      }
  if (cfa)
    return [0, 1, 2, 3].map((c) => medianOf(values.subarray(c * perCell, (c + 1) * perCell))) as BackgroundMap['cellLevel'] // prettier-ignore
  const all = medianOf(values)
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
 * @param place of the colour cell in stored order (0 to 3) whose pixels count; all of them without it
 */
export function pixelNoise({ data, width, height, cfa }: Plane, place: number | null = null): number {
  const step = cfa ? 2 : 1
  // Some two hundred rows; an odd distance meets all colours.
  const rowStep = Math.max(1, Math.floor(height / 200)) | 1
  const [x0, y0, dx, dy] = place === null ? [0, 0, 5, rowStep] : [place & 1, place >> 1, 6, 2 * Math.ceil(rowStep / 2)]
  const differences = new Float64Array(Math.ceil(height / dy) * Math.ceil(width / dx))
  let n = 0
  for (let y = y0; y < height; y += dy)
    for (let i = y * width + x0, end = (y + 1) * width - step; i < end; i += dx) {
      const d = data[i + step] - data[i]
      if (Number.isFinite(d)) differences[n++] = Math.abs(d)
    }
  return (1.4826 * medianOf(differences.subarray(0, n))) / Math.SQRT2
}

/**
 * Least squares of a map on several shapes of the same blocks, refitted three times without what lies more than three
 * robust sigma off (nebulae, bright stars).
 * @returns one coefficient and standard error per shape
 */
export function regress(value: Float64Array, shapes: Float64Array[]): { coefficient: number[]; error: number[] } {
  const n = shapes.length
  const coefficient: number[] = new Array(n).fill(0)
  let error: number[] = new Array(n).fill(Infinity)
  const residual = Float64Array.from(value)
  let limit = Infinity
  for (let round = 0; round < 4; round++) {
    const { a, b, used, squares } = normalEquations(value, shapes, residual, limit)
    const inverse = invert(a)
    for (let k = 0; k < n; k++) coefficient[k] = inverse[k].reduce((sum, v, j) => sum + v * b[j], 0)
    error = inverse.map((row, k) => Math.sqrt((Math.max(0, row[k]) * squares) / Math.max(1, used - n)))
    subtractShapes(value, shapes, coefficient, residual)
    limit = Math.max(3 * 1.4826 * medianOf(residual.map(Math.abs)), 1e-12)
  }
  return { coefficient, error }
}

/** Sums over the blocks whose residual is within the limit; `squares` of those residuals. */
function normalEquations(value: Float64Array, shapes: Float64Array[], residual: Float64Array, limit: number) {
  const n = shapes.length
  const a = Array.from({ length: n }, () => new Array<number>(2 * n).fill(0))
  const b = new Array<number>(n).fill(0)
  let [used, squares] = [0, 0]
  for (let j = 0; j < n; j++)
    for (let k = j; k <= n; k++) {
      // The last column is the right-hand side.
      const [u, v] = [shapes[j], k < n ? shapes[k] : value]
      let sum = 0
      for (let i = 0; i < value.length; i++) if (Math.abs(residual[i]) <= limit) sum += u[i] * v[i]
      if (k === n) b[j] = sum
      else a[j][k] = a[k][j] = sum
    }
  for (let i = 0; i < value.length; i++)
    if (Math.abs(residual[i]) <= limit) {
      used++
      squares += residual[i] ** 2
    }
  return { a, b, used, squares }
}

/** What is left of a map without its shapes. */
export function subtractShapes(
  value: Float64Array,
  shapes: Float64Array[],
  coefficient: readonly number[],
  out = new Float64Array(value.length),
): Float64Array {
  out.set(value)
  for (const [k, shape] of shapes.entries()) {
    const c = coefficient[k]
    for (let i = 0; i < out.length; i++) out[i] -= c * shape[i]
  }
  return out
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
