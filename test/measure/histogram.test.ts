import fc from 'fast-check'
import { describe, expect, it } from 'vitest'
import { medianDeviationOf, medianOf, rangeOf, sdOf, stepOf, sumOf, totalOf } from '../../main/measure/histogram.ts'
import { medianOfValues, selectSmallest } from '../../main/measure/select.ts'

const histogramOf = (values: number[], bins = 64) => {
  const histogram = new Uint32Array(bins)
  for (const v of values) histogram[v]++
  return histogram
}
const middle = (values: number[]) => {
  const sorted = values.slice().sort((a, b) => a - b)
  return (sorted[(sorted.length - 1) >> 1] + sorted[sorted.length >> 1]) / 2
}
const someValues = fc.array(fc.integer({ min: 0, max: 63 }), { minLength: 1, maxLength: 60 })

describe('figures from a histogram', () => {
  it('are those of the values themselves', () => {
    fc.assert(
      fc.property(someValues, (values) => {
        const h = histogramOf(values)
        const mean = sumOf(h) / values.length
        expect(totalOf(h)).toBe(values.length)
        expect(medianOf(h)).toBe(middle(values))
        expect(medianDeviationOf(h)).toBe(middle(values.map((v) => Math.abs(v - middle(values)))))
        expect(rangeOf(h)).toEqual([Math.min(...values), Math.max(...values)])
        const variance = values.reduce((sum, v) => sum + (v - mean) ** 2, 0) / values.length
        expect(sdOf(h, mean, values.length)).toBeCloseTo(Math.sqrt(variance), 10)
      }),
    )
  })

  it('can be checked by hand: 2, 4, 4, 10', () => {
    const h = histogramOf([2, 4, 4, 10])
    expect([medianOf(h), medianDeviationOf(h), sumOf(h), stepOf(h)]).toEqual([4, 1, 20, 2])
  })

  it('knows 14-bit data shifted up by their steps of 4', () => {
    expect(stepOf(histogramOf([8, 12, 40, 60]))).toBe(4)
    expect(stepOf(histogramOf([7]))).toBe(0)
  })
})

describe('selection', () => {
  it('finds what sorting finds, repeated values included', () => {
    fc.assert(
      fc.property(fc.array(fc.float({ noNaN: true }), { minLength: 1 }), fc.nat(), (values, at) => {
        const k = at % values.length
        expect(selectSmallest(Float32Array.from(values), k)).toEqual(Float32Array.from(values).sort()[k])
      }),
    )
    fc.assert(fc.property(someValues, (values) => medianOfValues(Float64Array.from(values)) === middle(values)))
  })
})
