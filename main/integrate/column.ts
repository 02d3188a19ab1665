import { MAD_TO_SIGMA } from '../measure/constants.ts'
import type { Method } from './method.ts'

/** One pixel of a master: its value (NaN where no frame has one) and how many of the frames it was made of. */
export interface Combined {
  value: number
  kept: number
}

/**
 * The specification of integration: one pixel's values, in frame order, to one value. The kernels are held equal to this, and
 * this to numpy and astropy (test/reference/integrate). Plain float64, nothing clever.
 *
 * Values that are not finite count as absent. Clipping follows astropy.stats.sigma_clip(cenfunc='median', stdfunc='std' or
 * 'mad_std'): limits are computed afresh from what the last round left, until nothing changes or the rounds are used up, and
 * the last limits are then applied to *all* values, so that one rejected early may come back.
 */
export function combineColumn(values: ArrayLike<number>, method: Method): Combined {
  const finite = Array.from(values).filter(Number.isFinite)
  const n = finite.length
  if (n === 0) return { value: NaN, kept: 0 }
  switch (method.name) {
    case 'mean':
      return { value: meanOf(finite), kept: n }
    case 'median':
      return { value: medianOf(finite.slice()), kept: n }
    case 'minMax': {
      if (method.low + method.high >= n) return { value: medianOf(finite), kept: Math.min(n, 2 - (n % 2)) }
      const inner = Float64Array.from(finite)
        .sort()
        .subarray(method.low, n - method.high)
      return { value: meanOf(inner), kept: inner.length }
    }
    default: {
      const [lower, upper] = clipBounds(finite, method)
      const kept = finite.filter((x) => !(x < lower || x > upper))
      return { value: kept.length ? meanOf(kept) : NaN, kept: kept.length }
    }
  }
}

/**
 * The last round's limits. The order of operations is that of astropy's compiled routine, down to the order in which Wirth's
 * selection leaves the values before they are summed: where a value lies exactly on a limit, the rounding of the standard
 * deviation decides, and it must be the same rounding.
 */
export function clipBounds(values: readonly number[], method: Method): [number, number] {
  if (method.name !== 'sigmaClip' && method.name !== 'madClip') throw new TypeError(`${method.name} has no limits`)
  let rest = values.slice()
  let bounds: [number, number] = [NaN, NaN]
  for (let round = 0; round < method.rounds; round++) {
    const median = medianOf(rest)
    const sigma =
      method.name === 'sigmaClip'
        ? standardDeviation(rest)
        : Math.max(medianOf(rest.map((x) => Math.abs(x - median))) * MAD_TO_SIGMA, method.leastSigma)
    bounds = [median - method.low * sigma, median + method.high * sigma]
    const next = rest.filter((x) => x >= bounds[0] && x <= bounds[1])
    if (next.length === rest.length || next.length === 0) break
    rest = next
  }
  return bounds
}

/** Sum in the order given, over the count. */
function meanOf(values: ArrayLike<number>): number {
  let sum = 0
  for (let i = 0; i < values.length; i++) sum += values[i]
  return sum / values.length
}

/** Population standard deviation, two passes. */
function standardDeviation(values: readonly number[]): number {
  const mean = meanOf(values)
  let squares = 0
  for (const x of values) squares += (mean - x) * (mean - x)
  return Math.sqrt(squares / values.length)
}

/** Median by selection; rearranges `values`. For an even count the mean of the two in the middle, the upper selected first. */
function medianOf(values: number[]): number {
  const n = values.length
  if (n % 2) return selectSmallest(values, (n - 1) / 2)
  return 0.5 * (selectSmallest(values, n / 2) + selectSmallest(values, n / 2 - 1))
}

/** The k-th smallest, by N. Wirth's selection (Algorithms + Data Structures = Programs, 1976); rearranges `values`. */
function selectSmallest(values: number[], k: number): number {
  let left = 0
  let right = values.length - 1
  while (left < right) {
    const pivot = values[k]
    let i = left
    let j = right
    do {
      while (values[i] < pivot) i++
      while (pivot < values[j]) j--
      if (i <= j) {
        const swapped = values[i]
        values[i++] = values[j]
        values[j--] = swapped
      }
    } while (i <= j)
    if (j < k) left = i
    if (k < i) right = j
  }
  return values[k]
}
