/**
 * The k-th smallest (k from 0) by Hoare's selection with a median-of-three pivot; rearranges `values`, which hold no NaN.
 * Linear time on any data a camera writes; equal values do not slow it down.
 */
export function selectSmallest(values: Float32Array | Float64Array, k: number, from = 0, end = values.length): number {
  let left = from
  let right = end - 1
  const target = from + k
  while (left < right) {
    const pivot = middleOfThree(values[left], values[(left + right) >> 1], values[right])
    let i = left
    let j = right
    while (i <= j) {
      while (values[i] < pivot) i++
      while (values[j] > pivot) j--
      if (i <= j) {
        const swapped = values[i]
        values[i++] = values[j]
        values[j--] = swapped
      }
    }
    if (target <= j) right = j
    else if (target >= i) left = i
    else break
  }
  return values[target]
}

/** Median, for an even count the mean of the two in the middle; rearranges `values`, which hold no NaN. NaN for none. */
export function medianOfValues(values: Float32Array | Float64Array): number {
  const n = values.length
  if (n === 0) return NaN
  const upper = selectSmallest(values, n >> 1)
  if (n % 2) return upper
  // After selection everything before the place is no larger: the other middle one is the largest there.
  let lower = values[0]
  for (let i = 1; i < n >> 1; i++) if (values[i] > lower) lower = values[i]
  return 0.5 * (lower + upper)
}

function middleOfThree(a: number, b: number, c: number): number {
  return Math.max(Math.min(a, b), Math.min(Math.max(a, b), c))
}

/**
 * The finite ones among `values`, in a copy to be rearranged. (The arrays' own `filter` gathers what it keeps in a list of boxed
 * numbers first: five times the memory of a frame.)
 */
export function finiteCopy<V extends Float32Array | Float64Array>(values: V): V {
  const copy = values.slice() as V
  let n = 0
  for (let i = 0; i < values.length; i++) if (Number.isFinite(values[i])) copy[n++] = values[i]
  return copy.subarray(0, n) as V
}
