import { isSmallInteger, type Samples } from './samples.ts'
import type { StretchLevels } from './stretch.ts'

/** What the window says of an image's pixels. Values in the image's own units. */
export interface ImageLevels extends StretchLevels {
  /** Pixels with a value, and those without (NaN, BLANK). */
  pixels: number
  undefined: number
  /** Upper end of the scale: 65 532 or 65 520 for 14- and 12-bit data shifted up to 16. */
  top: number
  /** Pixels at or below 0, and at `top` or above. */
  clippedLow: number
  clippedHigh: number
  /** Pixels by level, in equal steps from `from` to `to`. */
  counts: number[]
  from: number
  to: number
}

const BINS = 256
const MOST_SAMPLED = 2 ** 18
const SIGMA_PER_MAD = 1.4826
const BRIGHT = 0.999

/**
 * Levels of the first `rows` rows. Exact for integers of 16 bits; else median, noise and brightest 0.1 % come from every n-th
 * pixel, all other figures from all of them.
 * @param scaleTop upper end of the scale: a pixel there is clipped
 */
export function measureLevels(samples: Samples, length: number, scaleTop: number): ImageLevels {
  return isSmallInteger(samples)
    ? levelsOfIntegers(samples, length, scaleTop)
    : levelsOfFloats(samples, length, scaleTop)
}

const OFFSET = 32_768

function levelsOfIntegers(samples: Samples, length: number, scaleTop: number): ImageLevels {
  const counts = new Uint32Array(65_536 + OFFSET)
  for (let i = 0; i < length; i++) counts[samples[i] + OFFSET]++
  let first = counts.findIndex((count) => count > 0)
  let last = counts.findLastIndex((count) => count > 0)
  if (first < 0) first = last = OFFSET
  const median = valueAt(counts, length / 2)
  const bright = valueAt(counts, length * BRIGHT)
  const [min, max] = [first - OFFSET, last - OFFSET]
  const { from, to } = rangeOf(min, max, scaleTop)
  const bins = new Array<number>(BINS).fill(0)
  for (let at = first; at <= last; at++) bins[binOf(at - OFFSET, from, to)] += counts[at]
  const top = topOf(counts, scaleTop)
  return {
    ...{ min, max, median, bright, from, to, top },
    noise: SIGMA_PER_MAD * deviationOf(counts, median, length / 2),
    pixels: length,
    undefined: 0,
    clippedLow: sum(counts, first, OFFSET),
    clippedHigh: sum(counts, top + OFFSET, last),
    counts: bins,
  }
}

/** The highest level that data in steps of 4 or 16 can have; `scaleTop` for any other. */
function topOf(counts: Uint32Array, scaleTop: number): number {
  let step = 0
  for (let at = 0, before = -1; at < counts.length; at++) {
    if (!counts[at]) continue
    if (before >= 0) step = greatestDivisor(step, at - before)
    before = at
  }
  return step === 4 || step === 16 ? scaleTop + 1 - step : scaleTop
}

const greatestDivisor = (a: number, b: number): number => (b ? greatestDivisor(b, a % b) : a)

/** The level below which `wanted` pixels lie. */
function valueAt(counts: Uint32Array, wanted: number): number {
  for (let at = 0, seen = 0; at < counts.length; at++) if ((seen += counts[at]) > wanted) return at - OFFSET
  return counts.findLastIndex((count) => count > 0) - OFFSET
}

/** The distance from the median within which `wanted` pixels lie. */
function deviationOf(counts: Uint32Array, median: number, wanted: number): number {
  const middle = median + OFFSET
  let seen = counts[middle] ?? 0
  let distance = 0
  while (seen <= wanted && distance < counts.length) {
    distance++
    seen += (counts[middle - distance] ?? 0) + (counts[middle + distance] ?? 0)
  }
  return distance
}

function sum(counts: Uint32Array, from: number, to: number): number {
  let total = 0
  for (let at = Math.max(0, Math.ceil(from)); at <= Math.min(to, counts.length - 1); at++) total += counts[at]
  return total
}

function levelsOfFloats(samples: Samples, length: number, scaleTop: number): ImageLevels {
  let min = Infinity
  let max = -Infinity
  let pixels = 0
  let clippedLow = 0
  let clippedHigh = 0
  for (let i = 0; i < length; i++) {
    const value = samples[i]
    if (!(Math.abs(value) < Infinity)) continue
    pixels++
    if (value < min) min = value
    if (value > max) max = value
    if (value <= 0) clippedLow++
    if (value >= scaleTop) clippedHigh++
  }
  if (!pixels) min = max = 0
  const { from, to } = rangeOf(min, max, scaleTop)
  const counts = new Array<number>(BINS).fill(0)
  for (let i = 0; i < length; i++) if (Math.abs(samples[i]) < Infinity) counts[binOf(samples[i], from, to)]++
  return {
    ...{ min, max, from, to, pixels, clippedLow, clippedHigh, counts, top: scaleTop },
    undefined: length - pixels,
    ...quantiles(samples, length),
  }
}

function quantiles(samples: Samples, length: number): Pick<StretchLevels, 'median' | 'noise' | 'bright'> {
  // An odd step visits all colours of a filter array.
  const step = Math.max(1, Math.floor(length / MOST_SAMPLED)) | 1
  const some = new Float64Array(Math.ceil(length / step))
  let n = 0
  for (let i = 0; i < length; i += step) if (Math.abs(samples[i]) < Infinity) some[n++] = samples[i]
  if (!n) return { median: 0, noise: 0, bright: 0 }
  const sorted = some.subarray(0, n).sort()
  const median = sorted[n >> 1]
  const bright = sorted[Math.min(n - 1, Math.floor(n * BRIGHT))]
  const deviations = sorted.map((value) => Math.abs(value - median)).sort()
  return { median, bright, noise: SIGMA_PER_MAD * deviations[n >> 1] }
}

/** From 0 to the end of the scale, further where pixels lie beyond. */
const rangeOf = (min: number, max: number, scaleTop: number) => ({
  from: Math.min(0, min),
  to: Math.max(scaleTop, max),
})

const binOf = (value: number, from: number, to: number): number =>
  Math.min(BINS - 1, Math.floor((BINS * (value - from)) / (to - from)))
