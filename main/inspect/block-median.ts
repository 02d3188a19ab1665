import { medianOfValues, selectSmallest } from '../measure/select.ts'

/**
 * Medians of many small samples that resemble each other from one to the next, as blocks of a background do: exact, NaN left out,
 * and several times faster than selecting each from nothing. Only what lies near the last median is selected from; where that
 * misses, all of it is.
 */
export class BlockMedian {
  #guess = 0
  #reach = 0
  readonly #near: Float64Array

  /** @param most values of one sample */
  constructor(most: number) {
    this.#near = new Float64Array(most)
  }

  /** Median of the values from `from` to before `end`, which keep their order; for an even count the mean of the middle two. */
  of(values: Float64Array, from = 0, end = values.length): number {
    const near = this.#near
    const [low, high] = [this.#guess - this.#reach, this.#guess + this.#reach]
    let [inside, below, above] = [0, 0, 0]
    // Without branches: which value falls where cannot be foretold.
    for (let i = from; i < end; i++) {
      const v = values[i]
      near[inside] = v
      inside += Number(v >= low) & Number(v <= high)
      below += Number(v < low)
      above += Number(v > high)
    }
    const count = end - from
    const upper = (count >> 1) - below
    // An even count needs the value before it as well.
    const isInside = upper >= 1 && upper < inside && inside + below + above === count
    const median = isInside ? middle(near, inside, upper, count % 2 === 1) : this.#anew(values, from, end)
    if (isInside && inside > count >> 3) this.#reach *= 0.9
    else if (!isInside) this.#reach = Math.max(2 * Math.abs(median - this.#guess), 1.2 * this.#reach)
    if (median === median) this.#guess = median
    else this.#reach = 0
    return median
  }

  #anew(values: Float64Array, from: number, end: number): number {
    let n = 0
    for (let i = from; i < end; i++) {
      this.#near[n] = values[i]
      n += Number(values[i] === values[i])
    }
    return medianOfValues(this.#near.subarray(0, n))
  }
}

function middle(values: Float64Array, count: number, upper: number, isOdd: boolean): number {
  const at = selectSmallest(values, upper, 0, count)
  if (isOdd) return at
  let before = values[0]
  for (let i = 1; i < upper; i++) if (values[i] > before) before = values[i]
  return 0.5 * (before + at)
}
