import { estimate, fitLine, type Estimate } from './statistics.ts'

/** Dark current of one sensor setting, from darks at several exposures and temperatures. */

/** One dark: its mean and temporal variance (from a pair), ADU and ADU². */
export interface DarkPoint {
  exposureS: number
  tempC: number
  mean: number
  /** Null where no pair of equal darks is there. */
  variance: number | null
}

export interface DarkCurrent {
  ePerS: Estimate
  /** "mean": slope of the mean. "variance": the mean is held flat by clamping on the chip, so shot noise tells instead. */
  from: 'mean' | 'variance'
}

/**
 * Dark current at one temperature, electrons per second, from at least three exposures (EMVA 1288 3.1, section 7.1).
 *
 * Some sensors clamp their black level: the mean stays where it is while the noise grows. That is recognised (the variance
 * grows beyond its own error, the mean does not follow it) and the slope of the variance, divided by K², is used.
 * @param gainDnPerE K
 * @returns null with fewer than three exposures
 */
export function darkCurrent(points: DarkPoint[], gainDnPerE: number): DarkCurrent | null {
  if (new Set(points.map((p) => p.exposureS)).size < 3) return null
  const x = points.map((p) => p.exposureS)
  const mean = fitLine(x, points.map((p) => p.mean)) // prettier-ignore
  const fromMean = estimate(mean.slope / gainDnPerE, mean.slopeError / gainDnPerE, mean.df)
  if (points.every((p) => p.variance !== null)) {
    const variance = fitLine(x, points.map((p) => p.variance as number)) // prettier-ignore
    const fromVariance = estimate(variance.slope / gainDnPerE ** 2, variance.slopeError / gainDnPerE ** 2, variance.df)
    const grows = fromVariance.ci95[0] > 0
    const meanFollows = fromMean.value > 0.5 * fromVariance.value
    if (grows && !meanFollows) return { ePerS: fromVariance, from: 'variance' }
  }
  return { ePerS: fromMean, from: 'mean' }
}

/** A doubling temperature, K. Its interval is null where the points leave none: two temperatures of one series. */
export interface Doubling {
  value: number
  ci95: Estimate['ci95'] | null
}

/**
 * Temperature over which dark current doubles, K: slope of ln D over T (EMVA 1288 3.1, section 7.2).
 * @param currents of one series; several series (say, exposures) share the slope, and each has a level of its own
 * @returns null with fewer than two temperatures, a dark current at or below zero, or one that does not grow with temperature
 */
export function doublingTemperature(currents: { tempC: number; ePerS: number; series?: number }[]): Doubling | null {
  if (currents.some((c) => !(c.ePerS > 0))) return null
  const all = [...Map.groupBy(currents, (c) => c.series).values()]
  const mean = (values: number[]) => values.reduce((a, b) => a + b) / values.length
  let [xx, xy, yy] = [0, 0, 0]
  for (const one of all) {
    const [x, y] = [one.map((c) => c.tempC), one.map((c) => Math.log(c.ePerS))]
    const [mx, my] = [mean(x), mean(y)]
    for (let i = 0; i < one.length; i++) {
      xx += (x[i] - mx) ** 2
      xy += (x[i] - mx) * (y[i] - my)
      yy += (y[i] - my) ** 2
    }
  }
  const slope = xy / xx
  if (!(slope > 0)) return null
  const value = Math.LN2 / slope
  const df = currents.length - all.length - 1
  if (df < 1) return { value, ci95: null }
  const slopeError = Math.sqrt(Math.max(0, yy - slope * xy) / df / xx)
  return estimate(value, (slopeError / slope) * value, df)
}

/** Doubling law, D(T) = D(Tref) · 2^((T − Tref)/Td). Check: 30 e-/s at 30 °C, Td 8 K → 15 e-/s at 22 °C (EMVA reference camera model). */
export const darkCurrentAt = (ePerS: number, refC: number, tempC: number, doublingC: number) =>
  ePerS * 2 ** ((tempC - refC) / doublingC)

/**
 * Relative dark current of a CCD against 293 K, Qd/Qd0 = 122 T³ e^(−6400/T) (Teledyne e2v data sheet, non-inverted mode, as
 * quoted by the msfc-ccd documentation). Used as a published yardstick for doubling temperatures, not for any one camera.
 */
export function publishedDarkRatio(tempC: number): number {
  const kelvin = tempC + 273.15
  return 122 * kelvin ** 3 * Math.exp(-6400 / kelvin)
}

/** Doubling temperature that `publishedDarkRatio` implies: ln 2 / (d ln D / dT) = ln 2 / (3/T + 6400/T²). */
export function publishedDoublingC(tempC: number): number {
  const kelvin = tempC + 273.15
  return Math.LN2 / (3 / kelvin + 6400 / kelvin ** 2)
}
