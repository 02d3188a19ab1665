import fc from 'fast-check'
import { describe, expect, it } from 'vitest'
import { BlockMedian } from '../../main/inspect/block-median.ts'

/** The median by sorting, NaN left out. */
function plain(values: number[]): number {
  const sorted = values.filter((v) => !Number.isNaN(v)).sort((a, b) => a - b)
  const half = sorted.length >> 1
  return sorted.length === 0 ? NaN : sorted.length % 2 ? sorted[half] : (sorted[half - 1] + sorted[half]) / 2
}

describe('medians of blocks', () => {
  it('are those of the sorted values, whatever the blocks before them were', () => {
    const value = fc.oneof(fc.integer({ min: -3, max: 3 }), fc.double({ min: -1e5, max: 1e5 }), fc.constant(NaN))
    const blocks = fc.array(fc.array(value, { minLength: 1, maxLength: 40 }), { minLength: 1, maxLength: 12 })
    fc.assert(
      fc.property(blocks, (samples) => {
        const median = new BlockMedian(40)
        for (const sample of samples) expect(median.of(Float64Array.from(sample)) + 0).toEqual(plain(sample) + 0)
      }),
    )
  })
  it('leave the values in their order, and read only the part that is asked for', () => {
    const values = Float64Array.of(9, 5, 1, 3, 100)
    expect(new BlockMedian(5).of(values, 1, 4)).toBe(3)
    expect([...values]).toEqual([9, 5, 1, 3, 100])
  })
})
