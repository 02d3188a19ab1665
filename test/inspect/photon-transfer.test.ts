import { describe, expect, it } from 'vitest'
import { photonTransfer, twoFlatsTwoDarks, pairFigures, type Level } from '../../main/inspect/photon-transfer.ts'
import { studentT975 } from '../../main/inspect/statistics.ts'
import { publishedSeries } from './emva-published.ts'

/**
 * Source of inputs and results: EMVA 1288 reference data set 001 (real 12-bit camera, 640 × 480) and the results that the
 * standard's reference implementation published for it (EMVA1288/emva1288 @2ed0b403, doc/datasets/datasets_results.rst).
 */
const pixels = 640 * 480
const levels: Level[] = publishedSeries.map(([exposureNs, photons, brightSum, brightPvar, darkSum, darkPvar]) => ({
  exposureS: exposureNs / 1e9,
  photons,
  bright: { mean: brightSum / (2 * pixels), variance: brightPvar / (4 * pixels), pixels },
  dark: { mean: darkSum / (2 * pixels), variance: darkPvar / (4 * pixels), pixels },
}))

describe('photon transfer of the published reference series', () => {
  const result = photonTransfer(levels)
  const relative = (actual: number, published: number, tolerance = 1e-9) =>
    expect(Math.abs(actual / published - 1)).toBeLessThan(tolerance)

  it('finds the published gain, and its inverse', () => {
    relative(result.gainDnPerE.value, 0.280769280926)
    relative(result.ePerDn.value, 3.56164319936)
  })
  it('finds the published responsivity and quantum efficiency', () => {
    relative(result.responsivity!, 0.126726922819)
    relative(result.quantumEfficiencyPercent!, 45.1356082834)
  })
  it('finds the published dark noise in DN and electrons', () => {
    relative(result.temporalDarkNoiseDn, 3.07341849276)
    relative(result.temporalDarkNoiseE.value, 10.8980275235)
  })
  it('finds the published saturation and greatest signal-to-noise ratio', () => {
    relative(result.saturationE, 13972.6302563)
    relative(result.snrMax, 118.205880802)
  })
  it('finds the published linearity errors and the levels they come from', () => {
    relative(result.linearityErrorPercent.min, -0.615797581149)
    relative(result.linearityErrorPercent.max, 0.480448332752)
    expect(result.used).toEqual({ saturation: 36, lastForGain: 25, linearFrom: 2, linearTo: 34 })
  })
  it('finds the published dark current (published to fewer digits than it can be computed)', () => {
    relative(result.darkCurrentEPerS!.value, 28.4074312749, 1e-6)
  })
  it('gives a confidence interval that holds the value and is narrow for 26 levels', () => {
    const [low, high] = result.gainDnPerE.ci95
    expect(low).toBeLessThan(0.2808)
    expect(high).toBeGreaterThan(0.2807)
    expect((high - low) / result.gainDnPerE.value).toBeLessThan(0.05)
  })
})

describe('two flats and two darks', () => {
  it('gives the gain of ten published read-noise rows their read noise', () => {
    // Bias pairs at 0.37 e-/ADU, an observer's page that cites Howell: standard deviation of the difference → electrons.
    const rows = [
      [35.388, 9.26], [35.305, 9.24], [35.327, 9.24], [35.294, 9.23], [35.25, 9.22],
      [35.259, 9.22], [35.416, 9.27], [35.372, 9.25], [35.22, 9.21], [35.226, 9.22],
    ] // prettier-ignore
    for (const [sd, readNoiseE] of rows) {
      const darks = { mean: 100, variance: sd ** 2 / 2, pixels: 1e6 }
      const flats = { mean: 100 + 0.37 * 20_000, variance: darks.variance + 20_000, pixels: 1e6 }
      // The published figure keeps the quantisation noise, ours takes 1/12 DN² out: 0.01 % here.
      const gain = 1 / (20_000 / (flats.mean - darks.mean))
      expect(gain).toBeCloseTo(0.37, 12)
      expect(twoFlatsTwoDarks(flats, darks).temporalDarkNoiseE.value).toBeCloseTo(readNoiseE, 2)
    }
  })
  it('refuses flats that are no brighter than the darks', () => {
    const pair = { mean: 100, variance: 4, pixels: 100 }
    expect(() => twoFlatsTwoDarks(pair, pair)).toThrow(RangeError)
  })
  it('takes a lamp drift out of the variance only when asked', () => {
    const a = [10, 12, 10, 12]
    const b = [14, 16, 14, 16]
    expect(pairFigures(a, b)).toEqual({ mean: 13, variance: 8, pixels: 4 })
    expect(pairFigures(a, b, true)).toEqual({ mean: 13, variance: 0, pixels: 4 })
  })
})

it('knows Student’s quantiles (tabulated values, any statistics handbook)', () => {
  const table = [[1, 12.706], [2, 4.303], [3, 3.182], [4, 2.776], [5, 2.571], [10, 2.228], [30, 2.042], [120, 1.98]] // prettier-ignore
  for (const [df, t] of table) expect(Math.abs(studentT975(df) - t)).toBeLessThan(df < 6 ? 0.02 : 0.002)
})
