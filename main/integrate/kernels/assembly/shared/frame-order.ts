// The clip exactly as column.ts has it, in frame order and float64: asked only where a value lies so near a limit that the
// rounding of the standard deviation decides. Values in `values[0..n)` are left alone; `work` is room for n float64.

@inline
function at(base: usize, k: i32): f64 {
  return load<f64>(base + (<usize>k << 3))
}

@inline
function put(base: usize, k: i32, x: f64): void {
  store<f64>(base + (<usize>k << 3), x)
}

function selectSmallest(a: usize, n: i32, k: i32): f64 {
  let left = 0
  let right = n - 1
  while (left < right) {
    const pivot = at(a, k)
    let i = left
    let j = right
    do {
      while (at(a, i) < pivot) i++
      while (pivot < at(a, j)) j--
      if (i <= j) {
        const x = at(a, i)
        put(a, i++, at(a, j))
        put(a, j--, x)
      }
    } while (i <= j)
    if (j < k) left = i
    if (k < i) right = j
  }
  return at(a, k)
}

function median(a: usize, n: i32): f64 {
  if (n & 1) return selectSmallest(a, n, (n - 1) >> 1)
  const upper = selectSmallest(a, n, n >> 1)
  return 0.5 * (upper + selectSmallest(a, n, (n >> 1) - 1))
}

/** How many values the last call of `clipInFrameOrder` kept. */
export let keptInFrameOrder: i32 = 0

export function clipInFrameOrder(values: usize, n: i32, low: f64, high: f64, rounds: i32, work: usize): f64 {
  memory.copy(work, values, <usize>n << 3)
  let count = n
  let lower: f64 = 0
  let upper: f64 = 0
  for (let round = 0; round < rounds; round++) {
    const centre = median(work, count)
    let mean: f64 = 0
    for (let k = 0; k < count; k++) mean += at(work, k)
    mean /= <f64>count
    let squares: f64 = 0
    for (let k = 0; k < count; k++) {
      const d = mean - at(work, k)
      squares += d * d
    }
    const sigma = sqrt(squares / <f64>count)
    lower = centre - low * sigma
    upper = centre + high * sigma
    let next = 0
    for (let k = 0; k < count; k++) {
      const x = at(work, k)
      if (x >= lower && x <= upper) put(work, next++, x)
    }
    if (next == count || next == 0) break
    count = next
  }
  let sum: f64 = 0
  let kept = 0
  for (let k = 0; k < n; k++) {
    const x = at(values, k)
    if (x < lower || x > upper) continue
    sum += x
    kept++
  }
  keptInFrameOrder = kept
  return sum / <f64>kept
}
