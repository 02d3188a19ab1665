import { MAD_TO_SIGMA } from '../measure/constants.ts'
import { finiteCopy } from '../measure/select.ts'
import type { Method } from './method.ts'

/**
 * Standard deviation of what is normal in `values`: a start from the MAD, then the standard deviation within 4σ of the median to
 * convergence. The MAD alone would do for floats; of integers it comes in whole steps only (a noise of 3 ADU measures as 2.97 or
 * 4.45). Cutting a normal distribution at 4σ makes it 0.05 % narrower, which is left in. Values that are not finite are left out.
 */
export function normalSd(values: Float32Array | Float64Array): number {
  const sorted = finiteCopy(values).sort()
  if (sorted.length < 2) return NaN
  const median = middleOf(sorted)
  const deviations = sorted.map((x) => Math.abs(x - median)).sort()
  let sigma = middleOf(deviations) * MAD_TO_SIGMA || deviations[deviations.length - 1]
  for (let round = 0; round < 20; round++) {
    const next = sdWithin(sorted, median, 4 * sigma)
    if (Math.abs(next - sigma) <= 1e-6 * sigma) return next
    sigma = next
  }
  return sigma
}

function sdWithin(values: Float32Array | Float64Array, centre: number, reach: number): number {
  let n = 0
  let sum = 0
  let squares = 0
  for (const x of values) {
    const d = x - centre
    if (Math.abs(d) > reach) continue
    n++
    sum += d
    squares += d * d
  }
  return Math.sqrt(Math.max(0, squares / n - (sum / n) ** 2))
}

function middleOf(sorted: Float32Array | Float64Array): number {
  const n = sorted.length
  return 0.5 * (sorted[(n - 1) >> 1] + sorted[n >> 1])
}

export interface MeasuredNoise {
  /** Of the master, ADU: from the difference of its even and its odd frames' integrations; null with one frame. */
  master: number | null
  /** Of one frame, ADU: from the difference of the first two. */
  frame: number | null
  /** What the master's should be: the frame's over √N, times what the method loses against a plain mean. */
  expected: number | null
}

/**
 * @param halves integration of the even frames less that of the odd ones
 * @param pair first frame less second
 */
export function measureNoise(halves: Float32Array, pair: Float32Array, frames: number, method: Method): MeasuredNoise {
  if (frames < 2) return { master: null, frame: null, expected: null }
  const even = Math.ceil(frames / 2)
  const odd = frames - even
  // Var(even − odd) = σ² (1/even + 1/odd), Var(master) = σ²/N.
  const master = normalSd(halves) / Math.sqrt(frames * (1 / even + 1 / odd))
  const frame = normalSd(pair) / Math.SQRT2
  return { master, frame, expected: (frame / Math.sqrt(frames)) * noisePenalty(method, frames) }
}

/**
 * Noise of a median of N normal values relative to that of their mean, N = 2 … 16: the exact figures (published as efficiencies in
 * stats.stackexchange 468688; order statistics of the normal distribution). Further on √(π/2) with a term fitted to 51 and 101.
 */
const MEDIAN_EFFICIENCY = [
  1, 1, 0.7429, 0.8384, 0.6973, 0.7761, 0.6788, 0.7432, 0.6689, 0.7229, 0.6628, 0.7091, 0.6586, 0.6991, 0.6556, 0.6916,
]

/** Clean normal stacks through astropy.stats.sigma_clip (Monte Carlo): noise relative to the plain mean at so many frames. */
const CLIP_PENALTY: Record<'sigmaClip' | 'madClip', [frames: number, penalty: number][]> = {
  sigmaClip: [
    [5, 1],
    [10, 1.001],
    [20, 1.008],
    [30, 1.012],
    [50, 1.013],
  ],
  madClip: [
    [5, 1.066],
    [10, 1.017],
    [20, 1.004],
    [30, 1.001],
    [50, 1],
  ],
}

/** What a method loses in noise against the plain mean on clean frames; for clips at the default limits. */
export function noisePenalty(method: Method, frames: number): number {
  switch (method.name) {
    case 'mean':
      return 1
    case 'median':
      return frames <= 16 ? 1 / Math.sqrt(MEDIAN_EFFICIENCY[frames - 1]) : Math.sqrt(Math.PI / 2) * (1 - 0.26 / frames)
    case 'minMax':
      return trimmedPenalty((method.low + method.high) / 2 / frames)
    default:
      return interpolate(CLIP_PENALTY[method.name], frames)
  }
}

/**
 * A mean without the share `cut` at either end, on normal values (Huber, Robust Statistics, the asymptotic variance of the trimmed
 * mean; from memory, held against simulation in the tests): with q the normal quantile of 1 − cut,
 * N σ⁻² Var = ((1 − 2 cut) − 2 q φ(q) + 2 cut q²) / (1 − 2 cut)².
 */
function trimmedPenalty(cut: number): number {
  if (cut <= 0) return 1
  let low = 0
  let high = 8
  for (let i = 0; i < 50; i++) {
    const middle = (low + high) / 2
    if (upperTail(middle) > cut) low = middle
    else high = middle
  }
  const density = Math.exp((-low * low) / 2) / Math.sqrt(2 * Math.PI)
  const inner = 1 - 2 * cut
  return Math.sqrt((inner - 2 * low * density + 2 * cut * low * low) / (inner * inner))
}

/** Share of normal values above x ≥ 0, to 1e-7 (Abramowitz & Stegun 26.2.17). */
function upperTail(x: number): number {
  const t = 1 / (1 + 0.2316419 * x)
  const series = ((((1.330274429 * t - 1.821255978) * t + 1.781477937) * t - 0.356563782) * t + 0.31938153) * t
  return (Math.exp((-x * x) / 2) / Math.sqrt(2 * Math.PI)) * series
}

function interpolate(table: [number, number][], at: number): number {
  const above = table.findIndex(([x]) => x >= at)
  if (above === 0) return table[0][1]
  if (above < 0) return table[table.length - 1][1]
  const [[x0, y0], [x1, y1]] = [table[above - 1], table[above]]
  return y0 + ((y1 - y0) * (at - x0)) / (x1 - x0)
}
