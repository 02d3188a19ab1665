/**
 * Sorting networks: which pairs to compare and exchange, in which order, to sort any `n` values. Batcher's merge exchange
 * (Knuth, The Art of Computer Programming, vol. 3, section 5.2.2, Algorithm M); it works for every n, not only powers of two.
 * The pairs do not depend on the values, so many columns of pixels can be sorted in step, one per SIMD lane.
 */
export function mergeExchange(n: number): [number, number][] {
  const pairs: [number, number][] = []
  if (n < 2) return pairs
  const top = 2 ** (Math.ceil(Math.log2(n)) - 1)
  for (let p = top; p >= 1; p /= 2) {
    let q = top
    let r = 0
    let d = p
    for (;;) {
      for (let i = 0; i + d < n; i++) if ((i & p) === r) pairs.push([i, i + d])
      if (q === p) break
      d = q - p
      q /= 2
      r = p
    }
  }
  return pairs
}
