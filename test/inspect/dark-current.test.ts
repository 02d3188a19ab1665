import { describe, expect, it } from 'vitest'
import {
  darkCurrent,
  darkCurrentAt,
  doublingTemperature,
  publishedDarkRatio,
  publishedDoublingC,
} from '../../main/inspect/dark-current.ts'
import { priceMismatch, stackNoiseE, weighCost, type DarkSignal } from '../../main/inspect/cost.ts'

describe('published yardsticks', () => {
  it('follows the data sheet relation Qd/Qd0 = 122 T³ e^(−6400/T)', () => {
    // Teledyne e2v CCD230 data sheet, as quoted by the msfc-ccd documentation; the last digits are arithmetic on it.
    expect(publishedDarkRatio(293 - 273.15)).toBeCloseTo(1.0015, 4)
    expect(publishedDarkRatio(20)).toBeCloseTo(1.01435, 5)
    expect(publishedDarkRatio(0)).toBeCloseTo(0.165917, 6)
    expect(publishedDarkRatio(-10)).toBeCloseTo(0.0608992, 7)
    expect(publishedDarkRatio(-20)).toBeCloseTo(0.0207443, 7)
  })
  it('doubles over 8.183, 7.163, 6.676 and 6.204 K at +20, 0, −10 and −20 °C', () => {
    const published = [[20, 8.183], [0, 7.163], [-10, 6.676], [-20, 6.204]] // prettier-ignore
    for (const [tempC, doubling] of published) expect(publishedDoublingC(tempC)).toBeCloseTo(doubling, 3)
  })
  it('halves over 8 K as the EMVA reference camera model does', () => {
    expect(darkCurrentAt(30, 30, 22, 8)).toBeCloseTo(15, 12)
  })
})

describe('dark current from darks', () => {
  const points = (meanSlope: number, varianceSlope: number) =>
    [10, 60, 120, 300].map((exposureS) => ({
      exposureS,
      tempC: -10,
      mean: 1920 + meanSlope * exposureS,
      variance: 20 + varianceSlope * exposureS,
    }))

  it('is the slope of the mean over exposure, divided by the gain', () => {
    const result = darkCurrent(points(0.04, 0.16), 4)
    expect(result?.from).toBe('mean')
    expect(result?.ePerS.value).toBeCloseTo(0.01, 10)
  })
  it('is told by the variance where the black level is clamped', () => {
    const result = darkCurrent(points(0, 0.16), 4)
    expect(result?.from).toBe('variance')
    expect(result?.ePerS.value).toBeCloseTo(0.01, 10)
  })
  it('cannot be told from two exposures', () => {
    expect(darkCurrent(points(0.04, 0.16).slice(0, 2), 4)).toBeNull()
  })
  it('gives the doubling temperature that made the data', () => {
    const currents = [-20, -15, -10, 0].map((tempC) => ({ tempC, ePerS: darkCurrentAt(0.02, -10, tempC, 6.3) }))
    expect(doublingTemperature(currents)?.value).toBeCloseTo(6.3, 9)
  })
  it('gives an interval that holds the truth, from two series of other levels that share one slope', () => {
    const noise = [0.01, -0.012, 0.004, 0.009, -0.006, -0.005]
    const currents = [0.02, 0.05].flatMap((rate, series) =>
      [-20, -10, 0].map((tempC, i) => ({
        tempC,
        series,
        ePerS: darkCurrentAt(rate, -10, tempC, 6.3) * (1 + noise[3 * series + i]),
      })),
    )
    const { value, ci95 } = doublingTemperature(currents)!
    expect(value).toBeCloseTo(6.3, 1)
    expect(ci95![0]).toBeLessThan(6.3)
    expect(ci95![1]).toBeGreaterThan(6.3)
    expect(ci95![1] - ci95![0]).toBeLessThan(0.3)
  })
  it('gives the interval of an ordinary straight line for one series', () => {
    // numpy.polyfit(T, ln D, 1, cov=True) for these numbers; Student's t of one degree of freedom is 12.7062.
    const currents = [[-20, 0.004], [-10, 0.0126], [0, 0.036]].map(([tempC, ePerS]) => ({ tempC, ePerS })) // prettier-ignore
    const { value, ci95 } = doublingTemperature(currents)!
    expect(value).toBeCloseTo(6.3092975, 4)
    expect(ci95![1] - value).toBeCloseTo(2.05553, 3)
  })
  it('gives no interval from two temperatures of one series', () => {
    const currents = [-20, -10].map((tempC) => ({ tempC, ePerS: darkCurrentAt(0.02, -10, tempC, 6.3) }))
    expect(doublingTemperature(currents)).toEqual({ value: expect.closeTo(6.3, 9) as number, ci95: null })
  })
  it('gives no doubling temperature for a current that falls with temperature', () => {
    expect(doublingTemperature([{ tempC: 0, ePerS: 1 }, { tempC: 10, ePerS: 0.5 }])).toBeNull() // prettier-ignore
  })
})

describe('the cost of a near match', () => {
  const signal: DarkSignal = { ePerAdu: 0.25, meanEPerS: 0.011, tailEPerS: 10, atC: -10, doublingC: 7, glow: [] }

  it('is 0.34 e- in the mean and 312 e- in a hot pixel of 10 e-/s for 1 K at 300 s', () => {
    // Arithmetic on D·t·(2^(dT/Td) − 1) with 0.011 e-/s (a published figure for a cooled sensor at −10 °C) and Td = 7 K.
    const { costE, costAdu, doublingFrom } = priceMismatch(
      signal,
      { tempC: -10, exposureS: 300 },
      { tempC: -9, exposureS: 300 },
    )
    expect(costE.mean).toBeCloseTo(0.34, 2)
    expect(costE.tail).toBeCloseTo(312, 0)
    expect(costAdu.tail).toBeCloseTo(costE.tail / 0.25, 9)
    expect(doublingFrom).toBe('measured')
  })
  it.each([
    [0.1, 5, 1.4],
    [0.5, 6, 5.95],
    [1, 7, 10.41],
    [2, 8, 18.92],
    [5, 6, 78.18],
  ])('of %f K with doubling over %f K is %f per cent of the dark signal', (dT, doublingC, percent) => {
    const unit = { ...signal, meanEPerS: 1, doublingC }
    const { costE } = priceMismatch(unit, { tempC: -10, exposureS: 1 }, { tempC: -10 + dT, exposureS: 1 })
    expect(100 * costE.mean).toBeCloseTo(percent, 2)
  })
  it('is nothing for equal settings, and negative when the dark is colder or shorter', () => {
    const same = priceMismatch(signal, { tempC: -10, exposureS: 300 }, { tempC: -10, exposureS: 300 })
    expect(same.costE).toEqual({ mean: 0, tail: 0, glow: 0 })
    const short = priceMismatch(signal, { tempC: -10, exposureS: 300 }, { tempC: -10, exposureS: 290 })
    expect(short.costE.mean).toBeCloseTo(-0.11, 10)
  })
  it('takes the glow from the two nearest measured exposures, not in proportion to time', () => {
    const glowing = { ...signal, glow: [{ exposureS: 100, peakE: 300 }, { exposureS: 300, peakE: 500 }] } // prettier-ignore
    const { costE } = priceMismatch(glowing, { tempC: -10, exposureS: 200 }, { tempC: -10, exposureS: 300 })
    expect(costE.glow).toBeCloseTo(100, 9)
  })
  it('says which doubling temperature it used when none was measured', () => {
    const { doublingFrom, doublingC } = priceMismatch({ ...signal, doublingC: null }, { tempC: -10, exposureS: 300 }, { tempC: -9, exposureS: 300 }) // prettier-ignore
    expect(doublingFrom).toBe('published')
    expect(doublingC).toBeCloseTo(6.676, 3)
  })
  it('is weighed against the noise of the stack, and called harmless below a tenth of it', () => {
    const noise = stackNoiseE(3, 16, 25)
    expect(noise).toBe(1)
    expect(weighCost({ mean: 50, tail: 0.05, glow: 0 }, noise)).toContain('harmless')
    expect(weighCost({ mean: 0, tail: 4, glow: 0 }, noise)).toContain('hot pixels too dark by 4.0 times')
  })
})
