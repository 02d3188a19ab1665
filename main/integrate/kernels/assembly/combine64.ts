// Frames of float64 (flats after subtraction and scaling, and every input that is not 16-bit) to one float32 frame, eight pixels
// at a time: four vectors of two lanes, one 64-byte line a frame. The specification is ../../column.ts.
import { clipInFrameOrder, keptInFrameOrder } from './shared/frame-order'

const LINE: usize = 64

const MEAN = 0
const MEDIAN = 1
const SIGMA_CLIP = 2
const MAD_CLIP = 3

// Set by `configure`, fixed for a job; see combine16.ts.
let n: i32 = 0
let planes: usize = 0
let stride: usize = 0
let method: i32 = 0
let low: f64 = 0
let high: f64 = 0
let rounds: i32 = 0
let leastSigma: f64 = 0
let network: usize = 0
let pairs: i32 = 0
let sorted: usize = 0
let work: usize = 0
/** How many of the values of each of the eight pixels are numbers, as i64. */
let counts: usize = 0

export function configure(
  frames: i32, planesAt: usize, planeStride: usize, _zeroLevel: i32,
  methodCode: i32, lowLimit: f64, highLimit: f64, roundLimit: i32, least: f64,
  networkAt: usize, pairCount: i32, sortedAt: usize, countsAt: usize, workAt: usize,
): void {
  n = frames
  planes = planesAt
  stride = planeStride
  method = methodCode
  low = lowLimit
  high = highLimit
  rounds = roundLimit
  leastSigma = least
  network = networkAt
  pairs = pairCount
  sorted = sortedAt
  counts = countsAt
  work = workAt
}

/** (stored + zero − dark) × scale of signed 16-bit words at `from` to float64 at `to`; dark is float32, or 0 for none. */
export function calibrate16(from: usize, pixels: i32, zero: f64, dark: usize, scale: f64, to: usize): void {
  const z = f64x2.splat(zero)
  const s = f64x2.splat(scale)
  for (let i = 0; i < pixels; i += 4) {
    const x = i32x4.extend_low_i16x8_s(v128.load64_zero(from + (<usize>i << 1)))
    let a = f64x2.add(f64x2.convert_low_i32x4_s(x), z)
    let b = f64x2.add(f64x2.convert_low_i32x4_s(v128.shuffle<i64>(x, x, 1, 1)), z)
    if (dark) {
      const d = v128.load(dark + (<usize>i << 2))
      a = f64x2.sub(a, f64x2.promote_low_f32x4(d))
      b = f64x2.sub(b, f64x2.promote_low_f32x4(v128.shuffle<i64>(d, d, 1, 1)))
    }
    v128.store(to + (<usize>i << 3), f64x2.mul(a, s))
    v128.store(to + (<usize>i << 3), f64x2.mul(b, s), 16)
  }
}

/** (value − dark) × scale of float64 in place; dark is float32, or 0 for none. */
export function calibrate64(at: usize, pixels: i32, dark: usize, scale: f64): void {
  const s = f64x2.splat(scale)
  for (let i = 0; i < pixels; i += 2) {
    let a = v128.load(at + (<usize>i << 3))
    if (dark) a = f64x2.sub(a, f64x2.promote_low_f32x4(v128.load64_zero(dark + (<usize>i << 2))))
    v128.store(at + (<usize>i << 3), f64x2.mul(a, s))
  }
}

/** Combines `pixels` pixels of the planes into float32 at `out`. Planes and out have room to the next 8 pixels. Returns how many values were left out. */
export function combine(pixels: i32, out: usize): i32 {
  let leftOut = 0
  for (let first = 0; first < pixels; first += 8) {
    gather(planes + (<usize>first << 3))
    if (method != MEAN) sort()
    const real = min(pixels - first, 8)
    for (let lane = 0; lane < real; lane++) {
      const count = load<i32>(counts + (<usize>lane << 3))
      const column = sorted + (<usize>lane << 3)
      store<f32>(out + (<usize>(first + lane) << 2), <f32>one(column, count, planes + (<usize>(first + lane) << 3)))
      leftOut += count - kept
    }
  }
  return leftOut
}

/** Copies eight columns; what is not a finite number becomes +∞ (and so is sorted to the end) and is not counted. */
function gather(from: usize): void {
  const nothing = f64x2.splat(0)
  const infinite = f64x2.splat(Infinity)
  for (let v: usize = 0; v < LINE; v += 16) {
    let at = from + v
    let to = sorted + v
    let count = i64x2.splat(0)
    for (let k = 0; k < n; k++, at += stride, to += LINE) {
      const x = v128.load(at)
      const finite = f64x2.eq(f64x2.sub(x, x), nothing)
      count = i64x2.sub(count, finite)
      v128.store(to, v128.bitselect(x, infinite, finite))
    }
    v128.store(counts + v, count)
  }
}

function sort(): void {
  const base = sorted
  for (let at = network, end = network + (<usize>pairs << 3); at < end; at += 8) {
    const a = base + load<u32>(at)
    const b = base + load<u32>(at, 4)
    const a0 = v128.load(a)
    const b0 = v128.load(b)
    const a1 = v128.load(a, 16)
    const b1 = v128.load(b, 16)
    const a2 = v128.load(a, 32)
    const b2 = v128.load(b, 32)
    const a3 = v128.load(a, 48)
    const b3 = v128.load(b, 48)
    v128.store(a, f64x2.pmin(a0, b0))
    v128.store(b, f64x2.pmax(a0, b0))
    v128.store(a, f64x2.pmin(a1, b1), 16)
    v128.store(b, f64x2.pmax(a1, b1), 16)
    v128.store(a, f64x2.pmin(a2, b2), 32)
    v128.store(b, f64x2.pmax(a2, b2), 32)
    v128.store(a, f64x2.pmin(a3, b3), 48)
    v128.store(b, f64x2.pmax(a3, b3), 48)
  }
}

/** How many values the last pixel kept. */
let kept: i32 = 0

@inline
function value(column: usize, k: i32): f64 {
  return load<f64>(column + (<usize>k << 6))
}

@inline
function middle(column: usize, from: i32, count: i32): f64 {
  return 0.5 * (value(column, from + ((count - 1) >> 1)) + value(column, from + (count >> 1)))
}

function meanBetween(column: usize, from: i32, end: i32): f64 {
  let sum: f64 = 0
  for (let k = from; k < end; k++) sum += value(column, k)
  kept = end - from
  return sum / <f64>kept
}

function one(column: usize, count: i32, unsorted: usize): f64 {
  kept = 0
  if (count == 0) return NaN
  if (method == MEAN) return meanInFrameOrder(unsorted, count)
  if (method == SIGMA_CLIP) return clipSorted(column, count, unsorted)
  if (method == MAD_CLIP) return clipByDeviation(column, count)
  if (method == MEDIAN) {
    kept = count
    return middle(column, 0, count)
  }
  const from = <i32>low
  const end = count - <i32>high
  if (from < end) return meanBetween(column, from, end)
  kept = count & 1 ? 1 : 2
  return middle(column, 0, count)
}

function meanInFrameOrder(unsorted: usize, count: i32): f64 {
  let sum: f64 = 0
  for (let k = 0; k < n; k++, unsorted += stride) {
    const x = load<f64>(unsorted)
    if (x - x == 0) sum += x
  }
  kept = count
  return sum / <f64>count
}

/**
 * The clip walking in from both ends of the sorted column. Sums are taken of differences to the median, so that little cancels, and
 * afresh after each round that rejected something. A value within `near` of a limit is left to the specification's own rounding.
 */
function clipSorted(column: usize, count: i32, unsorted: usize): f64 {
  if (value(column, 0) == value(column, count - 1)) return meanBetween(column, 0, count)
  const scale = max(abs(value(column, 0)), abs(value(column, count - 1)))
  let from = 0
  let end = count
  let lower: f64 = 0
  let upper: f64 = 0
  let near: f64 = 0
  for (let round = 0; round < rounds; round++) {
    const left = end - from
    const centre = middle(column, from, left)
    let sum: f64 = 0
    let squares: f64 = 0
    for (let k = from; k < end; k++) {
      const d = value(column, k) - centre
      sum += d
      squares += d * d
    }
    const mean = sum / <f64>left
    const sigma = sqrt(max(squares / <f64>left - mean * mean, 0))
    lower = centre - low * sigma
    upper = centre + high * sigma
    near = 1e-9 * (low + high) * sigma + 1e-12 * scale
    const wasFrom = from
    const wasEnd = end
    while (from < end) {
      const x = value(column, from)
      if (abs(x - lower) <= near) return inFrameOrder(unsorted)
      if (x > lower) break
      from++
    }
    while (end > from) {
      const x = value(column, end - 1)
      if (abs(x - upper) <= near) return inFrameOrder(unsorted)
      if (x < upper) break
      end--
    }
    if (from == end || (from == wasFrom && end == wasEnd)) break
  }
  while (from > 0) {
    const x = value(column, from - 1)
    if (abs(x - lower) <= near) return inFrameOrder(unsorted)
    if (x < lower) break
    from--
  }
  while (end < count) {
    const x = value(column, end)
    if (abs(x - upper) <= near) return inFrameOrder(unsorted)
    if (x > upper) break
    end++
  }
  return meanBetween(column, from, end)
}

function inFrameOrder(unsorted: usize): f64 {
  let count = 0
  for (let k = 0; k < n; k++, unsorted += stride) {
    const x = load<f64>(unsorted)
    if (x - x != 0) continue
    store<f64>(work + (<usize>count << 3), x)
    count++
  }
  const mean = clipInFrameOrder(work, count, low, high, rounds, work + (<usize>n << 3))
  kept = keptInFrameOrder
  return mean
}

/** Median, deviations and limits are the same float64 expressions as in the specification, so no comparison can differ. */
function clipByDeviation(column: usize, count: i32): f64 {
  let from = 0
  let end = count
  let lower: f64 = 0
  let upper: f64 = 0
  for (let round = 0; round < rounds; round++) {
    const centre = middle(column, from, end - from)
    const sigma = max(medianDeviation(column, from, end, centre) * 1.482602218505602, leastSigma)
    lower = centre - low * sigma
    upper = centre + high * sigma
    const wasFrom = from
    const wasEnd = end
    while (from < end && value(column, from) < lower) from++
    while (end > from && value(column, end - 1) > upper) end--
    if (from == end || (from == wasFrom && end == wasEnd)) break
  }
  while (from > 0 && value(column, from - 1) >= lower) from--
  while (end < count && value(column, end) <= upper) end++
  return meanBetween(column, from, end)
}

/** Median of |x − centre| of a sorted column: the deviations on either side are sorted too, and are merged from the middle out. */
function medianDeviation(column: usize, from: i32, end: i32, centre: f64): f64 {
  const count = end - from
  let below = from + ((count - 1) >> 1)
  let above = below + 1
  const upper = count >> 1
  let deviation: f64 = 0
  let before: f64 = 0
  for (let k = 0; k <= upper; k++) {
    before = deviation
    const down = below >= from ? centre - value(column, below) : f64.MAX_VALUE
    const up = above < end ? value(column, above) - centre : f64.MAX_VALUE
    if (down <= up) {
      deviation = down
      below--
    } else {
      deviation = up
      above++
    }
  }
  return count & 1 ? deviation : 0.5 * (deviation + before)
}
