/** Figures of integer data from its histogram: exact, whatever the number of pixels. Bins count from 0. */

export function totalOf(histogram: Uint32Array): number {
  let total = 0
  for (let i = 0; i < histogram.length; i++) total += histogram[i]
  return total
}

/** Bin of the k-th smallest value, k from 0. */
export function rankOf(histogram: Uint32Array, k: number): number {
  let before = 0
  for (let bin = 0; bin < histogram.length; bin++) {
    before += histogram[bin]
    if (before > k) return bin
  }
  return NaN
}

/** For an even number of values the mean of the two in the middle; NaN for none. */
export function medianOf(histogram: Uint32Array, total = totalOf(histogram)): number {
  return 0.5 * (rankOf(histogram, (total - 1) >> 1) + rankOf(histogram, total >> 1))
}

/** Sum of bins × counts: whole numbers below 2⁵³ for up to 10¹¹ pixels of 16 bits. */
export function sumOf(histogram: Uint32Array): number {
  let sum = 0
  for (let bin = 0; bin < histogram.length; bin++) sum += bin * histogram[bin]
  return sum
}

/** Population standard deviation, about the mean. */
export function sdOf(histogram: Uint32Array, mean: number, total: number): number {
  let squares = 0
  for (let bin = 0; bin < histogram.length; bin++)
    if (histogram[bin]) squares += (bin - mean) * (bin - mean) * histogram[bin]
  return Math.sqrt(squares / total)
}

/** First and last bin with anything in it; null where all are empty. */
export function rangeOf(histogram: Uint32Array): [number, number] | null {
  let first = 0
  let last = histogram.length - 1
  while (first <= last && !histogram[first]) first++
  while (last > first && !histogram[last]) last--
  return first > last ? null : [first, last]
}

/** Median of |value − median|, exact: both sides of the median are walked outwards together, in half bins. */
export function medianDeviationOf(histogram: Uint32Array): number {
  const total = totalOf(histogram)
  if (total === 0) return NaN
  const centre = medianOf(histogram, total)
  const wanted = [(total - 1) >> 1, total >> 1]
  const found: number[] = []
  let passed = 0
  let down = Math.floor(centre)
  let up = Number.isInteger(centre) ? down + 1 : Math.ceil(centre)
  while (found.length < 2 && (down >= 0 || up < histogram.length)) {
    const below = down >= 0 ? centre - down : Infinity
    const above = up < histogram.length ? up - centre : Infinity
    const deviation = Math.min(below, above)
    if (below === deviation) passed += histogram[down--]
    if (above === deviation) passed += histogram[up++]
    while (found.length < 2 && passed > wanted[found.length]) found.push(deviation)
  }
  return 0.5 * (found[0] + found[1])
}

/** Greatest common divisor of the differences of occupied bins: 1, or 4 and 16 for 14- and 12-bit data shifted up; 0 for one level. */
export function stepOf(histogram: Uint32Array): number {
  let step = 0
  let previous = -1
  for (let bin = 0; bin < histogram.length && step !== 1; bin++) {
    if (!histogram[bin]) continue
    if (previous >= 0) step = gcd(step, bin - previous)
    previous = bin
  }
  return step
}

function gcd(a: number, b: number): number {
  while (b) [a, b] = [b, a % b]
  return a
}

export function added(...histograms: Uint32Array[]): Uint32Array {
  const [first, ...rest] = histograms
  const sum = first.slice()
  for (const h of rest) for (let i = 0; i < sum.length; i++) sum[i] += h[i]
  return sum
}
