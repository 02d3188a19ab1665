// Frames of 16-bit integers to one float32 frame, 32 pixels at a time: four vectors of eight lanes, one 64-byte line a frame.
// The specification is ../../column.ts; what it says of each lane is proved for integers in the comments below.
import { clipInFrameOrder, keptInFrameOrder } from './shared/frame-order'

const LINE: usize = 64

const MEAN = 0
const MEDIAN = 1
const SIGMA_CLIP = 2
const MAD_CLIP = 3
const MIN_MAX = 4

// Set by `configure`, fixed for a job.
let n: i32 = 0
let planes: usize = 0
let stride: usize = 0
let zero: i32 = 0
let method: i32 = 0
let low: f64 = 0
let high: f64 = 0
let rounds: i32 = 0
let leastSigma: f64 = 0
/** Pairs of byte offsets into `sorted`, as u32. */
let network: usize = 0
let pairs: i32 = 0
/** n lines: the columns of 32 pixels, to be sorted in place. */
let sorted: usize = 0
/** Per vector: sums (32 bytes) and sums of squares (32 bytes) of differences to the first frame. */
let sums: usize = 0
/** Two columns of n float64. */
let work: usize = 0

/** A clip limit this near to an integer value is left to the float64 rounding of the specification. */
const NEAR: f64 = 1e-6

export function configure(
  frames: i32, planesAt: usize, planeStride: usize, zeroLevel: i32,
  methodCode: i32, lowLimit: f64, highLimit: f64, roundLimit: i32, least: f64,
  networkAt: usize, pairCount: i32, sortedAt: usize, sumsAt: usize, workAt: usize,
): void {
  n = frames
  planes = planesAt
  stride = planeStride
  zero = zeroLevel
  method = methodCode
  low = lowLimit
  high = highLimit
  rounds = roundLimit
  leastSigma = least
  network = networkAt
  pairs = pairCount
  sorted = sortedAt
  sums = sumsAt
  work = workAt
}

/** Big-endian 16-bit words to the machine's order, in place; `bytes` is rounded up to 16. */
export function swapBytes(at: usize, bytes: usize): void {
  for (const end = at + bytes; at < end; at += 16) {
    const x = v128.load(at)
    v128.store(at, v128.shuffle<u8>(x, x, 1, 0, 3, 2, 5, 4, 7, 6, 9, 8, 11, 10, 13, 12, 15, 14))
  }
}

/** Combines `pixels` pixels of the planes into float32 at `out`. Planes and out have room to the next 32 pixels. Returns how many values were left out. */
export function combine(pixels: i32, out: usize): i32 {
  let leftOut = 0
  for (let first = 0; first < pixels; first += 32) {
    const from = planes + (<usize>first << 1)
    const to = out + (<usize>first << 2)
    const real = min(pixels - first, 32)
    if (method == MEAN) meanBlock(from, to)
    else {
      gather(from)
      sort()
      if (method == MEDIAN) medianBlock(to)
      else if (method == MIN_MAX) minMaxBlock(to)
      else if (method == SIGMA_CLIP) leftOut += clipBlock(from, to, real)
      else leftOut += madBlock(to, real)
    }
  }
  if (method == MIN_MAX) leftOut = <i32>(low + high) * pixels
  return leftOut
}

/** Exact: sums of up to 2048 values of 16 bits fit 32; one division in float64, rounded once to float32. */
function meanBlock(from: usize, to: usize): void {
  const offset = i32x4.splat(n * zero)
  for (let v: usize = 0; v < LINE; v += 16) {
    let lo = offset
    let hi = offset
    let at = from + v
    for (let k = 0; k < n; k++, at += stride) {
      const x = v128.load(at)
      lo = i32x4.add(lo, i32x4.extend_low_i16x8_s(x))
      hi = i32x4.add(hi, i32x4.extend_high_i16x8_s(x))
    }
    divide(lo, n, to + (v << 1))
    divide(hi, n, to + (v << 1) + 16)
  }
}

/** Four integer sums over a count, as float32. */
@inline
function divide(sum: v128, count: i32, to: usize): void {
  const by = f64x2.splat(<f64>count)
  const a = f64x2.div(f64x2.convert_low_i32x4_s(sum), by)
  const b = f64x2.div(f64x2.convert_low_i32x4_s(v128.shuffle<i64>(sum, sum, 1, 1)), by)
  v128.store(to, v128.shuffle<i64>(f32x4.demote_f64x2_zero(a), f32x4.demote_f64x2_zero(b), 0, 2))
}

/**
 * Copies 32 columns to `sorted`, and adds up differences d to the first frame and their squares, two frames an instruction.
 * Differences wrap beyond 16 bits and squares beyond 32; lanes in which that can happen are recognised by their range (clipBlock).
 */
function gather(from: usize): void {
  const ones = i16x8.splat(1)
  for (let v: usize = 0; v < LINE; v += 16) {
    let at = from + v
    let to = sorted + v
    const first = v128.load(at)
    let sumLow = i32x4.splat(0)
    let sumHigh = i32x4.splat(0)
    let squareLow = i32x4.splat(0)
    let squareHigh = i32x4.splat(0)
    let k = 0
    for (; k + 1 < n; k += 2) {
      const a = v128.load(at)
      const b = v128.load(at + stride)
      v128.store(to, a)
      v128.store(to, b, LINE)
      const da = i16x8.sub(a, first)
      const db = i16x8.sub(b, first)
      const lo = v128.shuffle<i16>(da, db, 0, 8, 1, 9, 2, 10, 3, 11)
      const hi = v128.shuffle<i16>(da, db, 4, 12, 5, 13, 6, 14, 7, 15)
      sumLow = i32x4.add(sumLow, i32x4.dot_i16x8_s(lo, ones))
      sumHigh = i32x4.add(sumHigh, i32x4.dot_i16x8_s(hi, ones))
      squareLow = i32x4.add(squareLow, i32x4.dot_i16x8_s(lo, lo))
      squareHigh = i32x4.add(squareHigh, i32x4.dot_i16x8_s(hi, hi))
      at += stride << 1
      to += LINE << 1
    }
    if (k < n) {
      const a = v128.load(at)
      v128.store(to, a)
      const da = i16x8.sub(a, first)
      const lo = i32x4.extend_low_i16x8_s(da)
      const hi = i32x4.extend_high_i16x8_s(da)
      sumLow = i32x4.add(sumLow, lo)
      sumHigh = i32x4.add(sumHigh, hi)
      squareLow = i32x4.add(squareLow, i32x4.mul(lo, lo))
      squareHigh = i32x4.add(squareHigh, i32x4.mul(hi, hi))
    }
    const s = sums + (v << 2)
    v128.store(s, sumLow)
    v128.store(s, sumHigh, 16)
    v128.store(s, squareLow, 32)
    v128.store(s, squareHigh, 48)
  }
}

/** Sorts the 32 columns in step. */
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
    v128.store(a, i16x8.min_s(a0, b0))
    v128.store(b, i16x8.max_s(a0, b0))
    v128.store(a, i16x8.min_s(a1, b1), 16)
    v128.store(b, i16x8.max_s(a1, b1), 16)
    v128.store(a, i16x8.min_s(a2, b2), 32)
    v128.store(b, i16x8.max_s(a2, b2), 32)
    v128.store(a, i16x8.min_s(a3, b3), 48)
    v128.store(b, i16x8.max_s(a3, b3), 48)
  }
}

@inline
function row(k: i32): usize {
  return sorted + (<usize>k << 6)
}

/** Half-integers below 2¹⁷: exact in float32. */
function medianBlock(to: usize): void {
  const a = row((n - 1) >> 1)
  const b = row(n >> 1)
  const twice = i32x4.splat(2 * zero)
  const half = f32x4.splat(0.5)
  for (let v: usize = 0; v < LINE; v += 16) {
    const x = v128.load(a + v)
    const y = v128.load(b + v)
    const lo = i32x4.add(i32x4.add(i32x4.extend_low_i16x8_s(x), i32x4.extend_low_i16x8_s(y)), twice)
    const hi = i32x4.add(i32x4.add(i32x4.extend_high_i16x8_s(x), i32x4.extend_high_i16x8_s(y)), twice)
    v128.store(to + (v << 1), f32x4.mul(f32x4.convert_i32x4_s(lo), half))
    v128.store(to + (v << 1), f32x4.mul(f32x4.convert_i32x4_s(hi), half), 16)
  }
}

function minMaxBlock(to: usize): void {
  const from = <i32>low
  const end = n - <i32>high
  const count = end - from
  const offset = i32x4.splat(count * zero)
  for (let v: usize = 0; v < LINE; v += 16) {
    let lo = offset
    let hi = offset
    for (let k = from; k < end; k++) {
      const x = v128.load(row(k) + v)
      lo = i32x4.add(lo, i32x4.extend_low_i16x8_s(x))
      hi = i32x4.add(hi, i32x4.extend_high_i16x8_s(x))
    }
    divide(lo, count, to + (v << 1))
    divide(hi, count, to + (v << 1) + 16)
  }
}

/**
 * Writes the plain mean of every lane, then goes back to the lanes in which the first round might reject something. With n
 * values, their sum S and sum of squares Q (of differences to any reference), n²σ² = nQ − S². A lane is left as it is when its
 * extremes lie within the limits: n²·(2d)² ≤ 4κ²·(nQ − S²), in float32, with nQ·2⁻¹⁹ taken off the right side, which is more than
 * what rounding (at most 7 units of 2⁻²⁴ of nQ, as S² ≤ nQ) can add. A lane that only just passes in truth is done again for nothing.
 */
function clipBlock(from: usize, to: usize, real: i32): i32 {
  const widest = i16x8.splat(<i16>widestRange())
  const count = f32x4.splat(<f32>n)
  const shrunk = f32x4.splat(<f32>(<f64>n * (1 - 1 / 524288.0)))
  const count2 = f32x4.splat(<f32>n * <f32>n)
  const kLow = f32x4.splat(<f32>(4 * low * low * (1 - 1e-6)))
  const kHigh = f32x4.splat(<f32>(4 * high * high * (1 - 1e-6)))
  let leftOut = 0
  for (let v: usize = 0; v < LINE; v += 16) {
    const first = v128.load(from + v)
    const least = v128.load(sorted + v)
    const most = v128.load(row(n - 1) + v)
    const a = v128.load(row((n - 1) >> 1) + v)
    const b = v128.load(row(n >> 1) + v)
    const s = sums + (v << 2)
    let again = i16x8.bitmask(i16x8.gt_u(i16x8.sub(most, least), widest))
    again |= beyond(
      i32x4.extend_low_i16x8_s(least), i32x4.extend_low_i16x8_s(most),
      i32x4.add(i32x4.extend_low_i16x8_s(a), i32x4.extend_low_i16x8_s(b)),
      v128.load(s), v128.load(s, 32), shrunk, count2, kLow, kHigh,
    )
    again |= beyond(
      i32x4.extend_high_i16x8_s(least), i32x4.extend_high_i16x8_s(most),
      i32x4.add(i32x4.extend_high_i16x8_s(a), i32x4.extend_high_i16x8_s(b)),
      v128.load(s, 16), v128.load(s, 48), shrunk, count2, kLow, kHigh,
    ) << 4
    const frames = i32x4.splat(n)
    const offset = i32x4.splat(zero)
    const at = to + (v << 1)
    divide(i32x4.add(v128.load(s), i32x4.mul(i32x4.add(i32x4.extend_low_i16x8_s(first), offset), frames)), n, at)
    divide(i32x4.add(v128.load(s, 16), i32x4.mul(i32x4.add(i32x4.extend_high_i16x8_s(first), offset), frames)), n, at + 16)
    while (again) {
      const lane = ctz(again)
      again &= again - 1
      const pixel = (<i32>v >> 1) + lane
      if (pixel >= real) break
      store<f32>(to + (<usize>pixel << 2), <f32>clipSorted(sorted + (<usize>pixel << 1), from + (<usize>pixel << 1)))
      leftOut += n - kept
    }
  }
  return leftOut
}

/** Largest range for which differences fit 16 bits and n of their squares fit 31. */
@inline
function widestRange(): i32 {
  return min(32767, <i32>sqrt(2147483647.0 / <f64>n))
}

@inline
function beyond(
  least: v128, most: v128, twiceMedian: v128, sum: v128, squares: v128,
  shrunk: v128, count2: v128, kLow: v128, kHigh: v128,
): i32 {
  const below = f32x4.convert_i32x4_s(i32x4.sub(twiceMedian, i32x4.shl(least, 1)))
  const above = f32x4.convert_i32x4_s(i32x4.sub(i32x4.shl(most, 1), twiceMedian))
  const s = f32x4.convert_i32x4_s(sum)
  const variance = f32x4.sub(f32x4.mul(shrunk, f32x4.convert_i32x4_s(squares)), f32x4.mul(s, s))
  const tooLow = f32x4.gt(f32x4.mul(f32x4.mul(below, below), count2), f32x4.mul(kLow, variance))
  const tooHigh = f32x4.gt(f32x4.mul(f32x4.mul(above, above), count2), f32x4.mul(kHigh, variance))
  return i32x4.bitmask(v128.or(tooLow, tooHigh))
}

/** How many values the last lane kept. */
let kept: i32 = 0

@inline
function value(column: usize, k: i32): f64 {
  return <f64>load<i16>(column + (<usize>k << 6))
}

/**
 * One sorted column, the clip walking in from both ends. Sums are exact integers in float64, so is n²σ²; what float64 adds is one
 * root and one product, far below `NEAR`. Where a value lies nearer to a limit than that, the specification's own rounding decides.
 */
function clipSorted(column: usize, unsorted: usize): f64 {
  let sum: f64 = 0
  let squares: f64 = 0
  for (let k = 0; k < n; k++) {
    const x = value(column, k)
    sum += x
    squares += x * x
  }
  let from = 0
  let end = n
  let lower: f64 = 0
  let upper: f64 = 0
  for (let round = 0; round < rounds; round++) {
    const count = end - from
    const variance = <f64>count * squares - sum * sum
    const centre = 0.5 * (value(column, from + ((count - 1) >> 1)) + value(column, from + (count >> 1)))
    const sigma = sqrt(variance) / <f64>count
    lower = centre - low * sigma
    upper = centre + high * sigma
    if (variance == 0) break
    const wasFrom = from
    const wasEnd = end
    while (from < end) {
      const x = value(column, from)
      if (abs(x - lower) < NEAR) return inFrameOrder(unsorted)
      if (x > lower) break
      sum -= x
      squares -= x * x
      from++
    }
    while (end > from) {
      const x = value(column, end - 1)
      if (abs(x - upper) < NEAR) return inFrameOrder(unsorted)
      if (x < upper) break
      sum -= x
      squares -= x * x
      end--
    }
    // Nothing left: limits below one standard deviation can do that, and then nothing is kept.
    if (from == end || (from == wasFrom && end == wasEnd)) break
  }
  // The last limits apply to every value, so one rejected before the median moved may come back.
  while (from > 0) {
    const x = value(column, from - 1)
    if (abs(x - lower) < NEAR) return inFrameOrder(unsorted)
    if (x < lower) break
    sum += x
    from--
  }
  while (end < n) {
    const x = value(column, end)
    if (abs(x - upper) < NEAR) return inFrameOrder(unsorted)
    if (x > upper) break
    sum += x
    end++
  }
  kept = end - from
  return (sum + <f64>kept * <f64>zero) / <f64>kept
}

function inFrameOrder(unsorted: usize): f64 {
  for (let k = 0; k < n; k++, unsorted += stride) store<f64>(work + (<usize>k << 3), <f64>(<i32>load<i16>(unsorted) + zero))
  const mean = clipInFrameOrder(work, n, low, high, rounds, work + (<usize>n << 3))
  kept = keptInFrameOrder
  return mean
}

function madBlock(to: usize, real: i32): i32 {
  let leftOut = 0
  for (let pixel = 0; pixel < real; pixel++) {
    store<f32>(to + (<usize>pixel << 2), <f32>clipByDeviation(sorted + (<usize>pixel << 1)))
    leftOut += n - kept
  }
  return leftOut
}

/**
 * One sorted column, clipped by its median absolute deviation. Median (of integers) and deviation are exact, whatever the order;
 * the limits are the same float64 expression as in the specification, zero level included, so no comparison can differ.
 */
function clipByDeviation(column: usize): f64 {
  const offset = <f64>zero
  let from = 0
  let end = n
  let lower: f64 = 0
  let upper: f64 = 0
  for (let round = 0; round < rounds; round++) {
    const count = end - from
    const centre = 0.5 * (value(column, from + ((count - 1) >> 1)) + value(column, from + (count >> 1)))
    const sigma = max(medianDeviation(column, from, end, centre) * 1.482602218505602, leastSigma)
    lower = centre + offset - low * sigma
    upper = centre + offset + high * sigma
    const wasFrom = from
    const wasEnd = end
    while (from < end && value(column, from) + offset < lower) from++
    while (end > from && value(column, end - 1) + offset > upper) end--
    if (from == end || (from == wasFrom && end == wasEnd)) break
  }
  while (from > 0 && value(column, from - 1) + offset >= lower) from--
  while (end < n && value(column, end) + offset <= upper) end++
  kept = end - from
  let sum: f64 = 0
  for (let k = from; k < end; k++) sum += value(column, k)
  return (sum + <f64>kept * offset) / <f64>kept
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
