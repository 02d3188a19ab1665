import { describe, expect, it } from 'vitest'
import { mergeExchange } from '../../main/integrate/network.ts'

describe('mergeExchange', () => {
  it('sorts every input of zeros and ones up to 14 places, and so every input (0-1 principle, Knuth 5.3.4)', () => {
    for (let n = 1; n <= 14; n++) {
      const pairs = mergeExchange(n)
      for (let bits = 0; bits < 1 << n; bits++) {
        const ones = popcount(bits)
        const sorted = ((1 << ones) - 1) << (n - ones)
        if (apply(pairs, bits) !== sorted) expect.fail(`${bits.toString(2)} comes out unsorted for n = ${n}`)
      }
    }
  })

  it('sorts numbers for every count up to 300', () => {
    for (let n = 1; n <= 300; n++) {
      const values = Array.from({ length: n }, (_, i) => (i * 7919 + n * 31) % 211)
      const sorted = values.slice()
      for (const [a, b] of mergeExchange(n)) if (sorted[a] > sorted[b]) [sorted[a], sorted[b]] = [sorted[b], sorted[a]]
      expect(sorted).toEqual(values.sort((a, b) => a - b))
    }
  })

  it('needs 63 exchanges for 16 values (Knuth 5.3.4) and 97 for 20', () => {
    expect(mergeExchange(20)).toHaveLength(97)
    expect(mergeExchange(16)).toHaveLength(63)
  })
})

function popcount(bits: number): number {
  return bits.toString(2).replaceAll('0', '').length
}

/** Applies the network to zeros and ones, one bit a place. */
function apply(pairs: [number, number][], bits: number): number {
  for (const [a, b] of pairs) if ((bits >> a) & ~(bits >> b) & 1) bits ^= (1 << a) | (1 << b)
  return bits
}
