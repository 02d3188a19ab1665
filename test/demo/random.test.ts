import { describe, expect, it } from 'vitest'
import { Random } from '../../main/demo/random.ts'

/** Mean, variance and kurtosis (3 for a Gaussian) of many values. */
function moments(count: number, next: () => number) {
  const values = Float64Array.from({ length: count }, next)
  const mean = values.reduce((sum, v) => sum + v, 0) / count
  const central = (power: number) => values.reduce((sum, v) => sum + (v - mean) ** power, 0) / count
  return { mean, variance: central(2), kurtosis: central(4) / central(2) ** 2, values }
}

describe('seeded random numbers', () => {
  it('are the same for the same seed and stream, and others for another seed or stream', () => {
    const take = (...from: ConstructorParameters<typeof Random>) => {
      const random = new Random(...from)
      return Array.from({ length: 5000 }, () => random.uint32())
    }
    expect(take(1, 'a')).toEqual(take(1, 'a'))
    expect(take(1, 'a')).not.toEqual(take(2, 'a'))
    expect(take(1, 'a')).not.toEqual(take(1, 'b'))
    expect(take(1, 1, 2)).not.toEqual(take(1, 12))
  })

  it('have Gaussian moments within four standard errors, and 0.27 % beyond three standard deviations', () => {
    const n = 400_000
    const random = new Random(5, 'gauss')
    const { mean, variance, kurtosis, values } = moments(n, () => random.gaussian())
    expect(Math.abs(mean)).toBeLessThan(4 / Math.sqrt(n))
    expect(Math.abs(variance - 1)).toBeLessThan(4 * Math.sqrt(2 / n))
    expect(Math.abs(kurtosis - 3)).toBeLessThan(4 * Math.sqrt(24 / n))
    const beyond = values.filter((v) => Math.abs(v) > 3).length / n
    expect(Math.abs(beyond - 0.0027)).toBeLessThan(4 * Math.sqrt(0.0027 / n))
    expect(Math.max(...values.filter((v) => v > 4))).toBeGreaterThan(4)
  })

  it('count events with a variance equal to their mean', () => {
    for (const mean of [0.03, 0.8, 4, 11]) {
      const n = 200_000
      const random = new Random(7, 'poisson', mean)
      const found = moments(n, () => random.poisson(mean))
      expect(Math.abs(found.mean - mean)).toBeLessThan(4 * Math.sqrt(mean / n))
      expect(Math.abs(found.variance / mean - 1)).toBeLessThan(4 * Math.sqrt((2 + 1 / mean) / n))
    }
  })
})
