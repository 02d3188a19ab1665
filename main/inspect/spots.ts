import type { BlockMap } from './block-map.ts'

/** A local change: a patch of blocks that lies above or below the rest. */
export interface Spot {
  /** Centre, 0-based pixels. */
  x: number
  y: number
  /** Diameter of the disc of equal area, px. */
  sizePx: number
  /** Signed mean change of the patch without its soft edge, as a fraction: negative is darker than before. */
  change: number
  /** Change over its own noise. */
  significance: number
}

/** Edges of the square windows tried, in blocks: a shadow is best seen in a window of its own size. */
const windows = [1, 2, 3, 5, 8, 13]

/**
 * Local changes in a flattened map, strongest first: at each scale the mean over a window is held against its noise; a
 * patch is reported once, at the scale where it stands out most, and then taken out of the map.
 *
 * The noise is measured on the map itself (median absolute deviation), so flats with structure of their own raise no alarm.
 * @param least smallest change to report, as a fraction
 * @param sigmas how far above the noise of its window a patch must stand: 6.5 gives about one false patch in 10⁵ full frames
 */
export function findSpots(map: BlockMap, least: number, sigmas = 6.5, most = 40): Spot[] {
  const work = map.deviation.map((v) => (Number.isFinite(v) ? v : 0))
  const scales = windows.filter((w) => w * 3 <= Math.min(map.columns, map.rows))
  // Shadows cover little of a frame, so the noise of each scale need not be measured again after one is taken out.
  const first = summedArea(work, map.columns, map.rows)
  const noises = scales.map((window) =>
    Math.max(robustSigma(windowMeans(first, map.columns, map.rows, window)), map.blockNoise / window),
  )
  const spots: Spot[] = []
  while (spots.length < most) {
    const sums = summedArea(work, map.columns, map.rows)
    let best: { significance: number; change: number; column: number; row: number; window: number } | null = null
    for (const [k, window] of scales.entries()) {
      const means = windowMeans(sums, map.columns, map.rows, window)
      const noise = noises[k]
      for (let i = 0; i < means.length; i++) {
        const size = Math.abs(means[i])
        if (size < least || size < sigmas * noise || (best && size / noise <= best.significance)) continue
        const across = map.columns - window + 1
        best = { significance: size / noise, change: means[i], column: i % across, row: Math.floor(i / across), window }
      }
    }
    if (!best) break
    spots.push(takeOut(work, map, best))
  }
  return spots
}

/** Measures the patch around a peak and removes it from the map. */
function takeOut(
  work: Float64Array,
  map: BlockMap,
  peak: { significance: number; change: number; column: number; row: number; window: number },
): Spot {
  const { columns, rows } = map
  const sign = Math.sign(peak.change)
  const half = Math.abs(peak.change) / 2
  // Single blocks are noisy where the window is large: membership is judged on a small mean around each.
  const reach = Math.max(0, Math.floor(peak.window / 3))
  const sums = summedArea(work, columns, rows)
  const level = (c: number, r: number) => {
    const [c0, c1] = [Math.max(0, c - reach), Math.min(columns, c + reach + 1)]
    const [r0, r1] = [Math.max(0, r - reach), Math.min(rows, r + reach + 1)]
    return (areaSum(sums, columns, c0, r0, c1, r1) / ((c1 - c0) * (r1 - r0))) * sign
  }
  const inside = new Set<number>()
  const queue: number[] = []
  const visit = (c: number, r: number, force = false) => {
    if (c < 0 || r < 0 || c >= columns || r >= rows) return
    const i = r * columns + c
    if (inside.has(i) || !(force || level(c, r) > half)) return
    inside.add(i)
    queue.push(i)
  }
  for (let r = peak.row; r < peak.row + peak.window; r++)
    for (let c = peak.column; c < peak.column + peak.window; c++) visit(c, r, true)
  const limit = columns * rows * 0.25
  while (queue.length && inside.size < limit) {
    const i = queue.pop()!
    const [c, r] = [i % columns, Math.floor(i / columns)]
    visit(c - 1, r)
    visit(c + 1, r)
    visit(c, r - 1)
    visit(c, r + 1)
  }
  let [sx, sy, weight, area] = [0, 0, 0, 0]
  for (const i of inside) {
    const depth = work[i] * sign
    if (depth > half) area++
    const w = Math.max(0, depth)
    sx += w * ((i % columns) + 0.5)
    sy += w * (Math.floor(i / columns) + 0.5)
    weight += w
  }
  const radius = Math.sqrt(inside.size / Math.PI)
  const edge = Math.round(0.3 * radius)
  const change = (edge > 0 && meanOf(core(inside, edge, columns), work)) || peak.change
  // What surrounds it goes with it, so that its fading edge is not found again: the wider a mote is out of focus, the wider that is.
  const ring = Math.max(1, Math.ceil(0.3 * radius))
  for (const i of grown(inside, ring, columns, rows)) work[i] = 0
  return {
    x: (sx / weight) * map.blockPx - 0.5,
    y: (sy / weight) * map.blockPx - 0.5,
    sizePx: 2 * Math.sqrt(Math.max(1, area) / Math.PI) * map.blockPx,
    change,
    significance: peak.significance,
  }
}

/** Those of these blocks that lie more than so many steps from all others. */
function core(blocks: ReadonlySet<number>, steps: number, columns: number): Set<number> {
  let left = new Set(blocks)
  for (let step = 0; step < steps; step++)
    left = new Set([...left].filter((i) => [-1, 1, -columns, columns].every((to) => left.has(i + to))))
  return left
}

/** Null for no blocks. */
function meanOf(blocks: ReadonlySet<number>, values: Float64Array): number | null {
  let sum = 0
  for (const i of blocks) sum += values[i]
  return blocks.size ? sum / blocks.size : null
}

/** These blocks, and all within so many steps of them. */
function grown(blocks: ReadonlySet<number>, steps: number, columns: number, rows: number): Set<number> {
  const all = new Set(blocks)
  let edge = [...blocks]
  for (let step = 0; step < steps; step++) {
    const next: number[] = []
    for (const i of edge)
      for (let dr = -1; dr <= 1; dr++)
        for (let dc = -1; dc <= 1; dc++) {
          const [c, r] = [(i % columns) + dc, Math.floor(i / columns) + dr]
          const j = r * columns + c
          if (c < 0 || r < 0 || c >= columns || r >= rows || all.has(j)) continue
          all.add(j)
          next.push(j)
        }
    edge = next
  }
  return all
}

/** Summed-area table with a border of zeros: (columns + 1) × (rows + 1). */
function summedArea(values: Float64Array, columns: number, rows: number): Float64Array {
  const table = new Float64Array((columns + 1) * (rows + 1))
  for (let r = 0; r < rows; r++) {
    let line = 0
    for (let c = 0; c < columns; c++) {
      line += values[r * columns + c]
      table[(r + 1) * (columns + 1) + c + 1] = table[r * (columns + 1) + c + 1] + line
    }
  }
  return table
}

function areaSum(table: Float64Array, columns: number, c0: number, r0: number, c1: number, r1: number): number {
  const w = columns + 1
  return table[r1 * w + c1] - table[r0 * w + c1] - table[r1 * w + c0] + table[r0 * w + c0]
}

/** Mean over each window × window square, for every position where it fits. */
function windowMeans(table: Float64Array, columns: number, rows: number, window: number): Float64Array {
  const across = columns - window + 1
  const down = rows - window + 1
  const means = new Float64Array(across * down)
  for (let r = 0; r < down; r++)
    for (let c = 0; c < across; c++)
      means[r * across + c] = areaSum(table, columns, c, r, c + window, r + window) / (window * window)
  return means
}

/** 1.4826 × median absolute value (the map is already about zero), from at most some 20 000 evenly spread values. */
function robustSigma(values: Float64Array): number {
  const step = Math.max(1, Math.floor(values.length / 20_000))
  const sorted = Float64Array.from({ length: Math.floor(values.length / step) }, (_, i) =>
    Math.abs(values[i * step]),
  ).sort()
  return 1.4826 * sorted[sorted.length >> 1]
}
