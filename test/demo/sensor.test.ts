import { describe, expect, it } from 'vitest'
import { expectedAdu, expectedElectrons, expose, noiseAdu, type Exposure } from '../../main/demo/exposure.ts'
import { Random } from '../../main/demo/random.ts'
import {
  createSensor,
  darkE,
  electronsPerAdu,
  fullScaleAdu,
  glowE,
  heron11c,
  pedestalAdu,
  readNoiseE,
} from '../../main/demo/sensor.ts'

const size = { width: 518, height: 352 }
const pixels = size.width * size.height
const quiet = { ...heron11c, cosmicPerCm2Min: 0 }
const sensor = createSensor(quiet, size, 3)
const covered: Exposure = { exposureS: 3, sensorTempC: -10, gain: 100, offset: 30, light: null }
const lit = (electrons: number): Exposure => ({
  ...covered,
  light: new Float32Array(pixels).fill(electrons / covered.exposureS),
})

let shots = 0
const take = (exposure: Exposure) => expose(sensor, exposure, new Random(3, 'test', shots++), new Uint16Array(pixels))
function mean(values: Uint16Array | Float32Array): number {
  let sum = 0
  for (const value of values) sum += value
  return sum / values.length
}

/** Temporal variance by EMVA 1288: half the mean square of the difference of two frames of equal exposure. */
function temporalVariance(a: Uint16Array, b: Uint16Array): number {
  let sum = 0
  for (let i = 0; i < a.length; i++) sum += (a[i] - b[i]) ** 2
  return sum / (2 * a.length)
}

describe('a simulated sensor', () => {
  it('gives steps of 14 bits, scaled into 16, up to full scale and no further', () => {
    const frame = take(lit(1e6))
    expect(frame.every((adu) => adu % 4 === 0)).toBe(true)
    expect(frame[0]).toBe(65_532)
    expect(fullScaleAdu(quiet)).toBe(65_532)
  })

  it('stops at the full well where the converter would still go on', () => {
    const frame = take({ ...lit(1e6), gain: 0 })
    const expected = quiet.fullWellE / electronsPerAdu(quiet, 0) + pedestalAdu(quiet, 30)
    expect(expected).toBeLessThan(fullScaleAdu(quiet))
    // Hot pixels and the response make no difference to a well that is full: all stand at one level, but for read noise.
    expect(Math.abs(mean(frame) - expected)).toBeLessThan(4)
  })

  it('puts a covered short frame on its pedestal: 40 + 16 × offset', () => {
    // 0.2 s of dark current and glow are below a hundredth of an ADU on the median.
    const frame = take({ ...covered, exposureS: 0.2, offset: 50 })
    const median = Float32Array.from(frame).sort()[pixels >> 1]
    expect(Math.abs(median - 840)).toBeLessThanOrEqual(4)
    const truth = expectedAdu(sensor, { ...covered, exposureS: 0.2, offset: 50 })
    expect(Math.abs(mean(frame) - mean(truth))).toBeLessThan((4 * 6) / Math.sqrt(pixels))
  })

  it('keeps to photon transfer: variance over mean gives the stated gain within 1 %', () => {
    const levels = [0, 800, 2500, 6000, 10_000].map((electrons) => {
      const [a, b] = [take(lit(electrons)), take(lit(electrons))]
      return { mean: (mean(a) + mean(b)) / 2, variance: temporalVariance(a, b) }
    })
    const [dark, ...bright] = levels
    const sum = (f: (l: (typeof levels)[0]) => number) => bright.reduce((total, level) => total + f(level), 0)
    // EMVA 1288: the slope through the origin, in ADU per electron.
    const k = sum((l) => (l.variance - dark.variance) * (l.mean - dark.mean)) / sum((l) => (l.mean - dark.mean) ** 2)
    expect(1 / k / electronsPerAdu(quiet, 100)).toBeGreaterThan(0.99)
    expect(1 / k / electronsPerAdu(quiet, 100)).toBeLessThan(1.01)
  })

  it('has the stated read noise in a dark of almost no length', () => {
    const short = { ...covered, exposureS: 0.001 }
    const variance = temporalVariance(take(short), take(short)) - 4 ** 2 / 12
    const readE = Math.sqrt(variance) * electronsPerAdu(quiet, 100)
    expect(readE / readNoiseE(quiet, 100)).toBeGreaterThan(0.99)
    expect(readE / readNoiseE(quiet, 100)).toBeLessThan(1.01)
    expect(Math.sqrt(variance + 16 / 12) / noiseAdu(sensor, 100, 0)).toBeCloseTo(1, 1)
  })

  it('doubles its dark current every 6.4 K, by the law of the EMVA 1288 reference model', () => {
    // mu_I(T) = mu_I.ref × 2^((T − T_ref)/T_d); its published example: 30 e-/s at 30 °C, T_d = 8 K, is 15 e-/s at 22 °C.
    const emva = { ...quiet, darkReferenceC: 30, darkRateEPerS: 30, darkDoublingK: 8 }
    expect(darkE(emva, 1, 22)).toBeCloseTo(15.0, 10)
    const electrons = (tempC: number) => {
      const out = expectedElectrons(
        sensor,
        { ...covered, exposureS: 600, sensorTempC: tempC },
        new Float32Array(pixels),
      )
      const glow = glowE(quiet, 600, tempC)
      const values = out.map((e, i) => e - glow * sensor.glowShape[i]).sort()
      return values[pixels >> 1]
    }
    expect(electrons(-3.6) / electrons(-10)).toBeCloseTo(2, 2)
  })

  it('glows by a law of its own: twice the time is less than twice the glow, and no scaled dark fits', () => {
    const brightest = sensor.glowShape.indexOf(1)
    const glow = (exposureS: number) => {
      const exposure = { ...covered, exposureS }
      const dark = darkE(quiet, exposureS, -10) * sensor.darkShape[brightest]
      return expectedElectrons(sensor, exposure, new Float32Array(pixels))[brightest] - dark
    }
    // 1.7 e-/s × 220 s × (1 − e^(−t/220 s)): 217.2 e- after 189 s would be linear growth's 321.
    expect(glow(150)).toBeCloseTo(1.7 * 220 * (1 - Math.exp(-150 / 220)), 1)
    expect(glow(300) / glow(150)).toBeCloseTo((1 - Math.exp(-300 / 220)) / (1 - Math.exp(-150 / 220)), 3)
    expect(glow(300) / glow(150)).toBeLessThan(1.55)
  })

  it('has its hot pixels in every dark, each growing with the time at its own rate', () => {
    const { index, rateEPerS } = sensor.hot
    expect(index.length).toBe(Math.round(6e-4 * pixels))
    const hottest = rateEPerS.indexOf(Math.max(...rateEPerS))
    const at = (exposureS: number) =>
      expectedElectrons(sensor, { ...covered, exposureS }, new Float32Array(pixels))[index[hottest]]
    const grown = at(20) - at(10)
    expect(grown / (10 * rateEPerS[hottest])).toBeGreaterThan(0.98)
    expect(grown / (10 * rateEPerS[hottest])).toBeLessThan(1.1)
  })

  it('has the stated spread of photo response', () => {
    const { response } = sensor
    const middle = mean(response)
    const sd = Math.sqrt(mean(response.map((r) => (r - middle) ** 2)))
    expect(sd / quiet.responseSd).toBeCloseTo(1, 1)
  })

  it('averages to its truth, pixel by pixel: a stack of 16 darks leaves a quarter of the noise', () => {
    const exposure = { ...covered, exposureS: 120 }
    const sum = new Float32Array(pixels)
    for (let n = 0; n < 16; n++) take(exposure).forEach((adu, i) => (sum[i] += adu / 16))
    const truth = expectedAdu(sensor, exposure)
    const electrons = expectedElectrons(sensor, exposure, new Float32Array(pixels))
    const pulls = sum.map((adu, i) => ((adu - truth[i]) / noiseAdu(sensor, 100, electrons[i])) * 4)
    const spread = Math.sqrt(mean(pulls.map((p) => p * p)))
    expect(spread).toBeGreaterThan(0.97)
    expect(spread).toBeLessThan(1.03)
  })

  it('shows the planted faults: a pedestal step of a new driver, a cover that leaks', () => {
    const truth = expectedAdu(sensor, covered)
    const stepped = expectedAdu(sensor, { ...covered, pedestalStepAdu: 24 })
    expect(stepped[1000] - truth[1000]).toBeCloseTo(24, 3)
    const leaking = expectedAdu(sensor, { ...covered, leakEPerS: 2 })
    const grown = (y: number) => (leaking[y * 518 + 40] - truth[y * 518 + 40]) * electronsPerAdu(quiet, 100)
    expect(grown(0)).toBeCloseTo(2 * 3 * (1 - 0.5 / 352), 2)
    expect(grown(351)).toBeLessThan(0.02)
  })

  it('is another body for another seed, and the same for the same', () => {
    const again = createSensor(quiet, size, 3)
    const other = createSensor(quiet, size, 4)
    expect(again.hot.index).toEqual(sensor.hot.index)
    expect(again.response).toEqual(sensor.response)
    expect(other.hot.index).not.toEqual(sensor.hot.index)
  })
})
