import type { Random } from './random.ts'
import {
  darkE,
  electronsPerAdu,
  electronsPerStep,
  fullScaleAdu,
  glowE,
  pedestalAdu,
  readNoiseE,
  type Sensor,
} from './sensor.ts'

/** How the camera was set, and what fell on it. */
export interface Exposure {
  exposureS: number
  sensorTempC: number
  gain: number
  offset: number
  /** Photo-electrons per second of each pixel without the sensor's own response; null for a covered sensor. */
  light: Float32Array | null
  /** The light's level over its stated one: a panel that fades, thin cloud. 1 where not given. */
  lightFactor?: number
  /** A new driver that adds so many ADU to every pixel. */
  pedestalStepAdu?: number
  /** A cover that is not light-tight: electrons per second at the top edge, fading to none at the bottom. */
  leakEPerS?: number
}

/**
 * Mean electrons of each pixel: light, dark current, hot pixels, glow. The truth before noise and converter.
 * @param out as long as the sensor has pixels
 */
export function expectedElectrons(sensor: Sensor, exposure: Exposure, out: Float32Array): Float32Array {
  const { parameters, darkShape, glowShape, response, width, height } = sensor
  const { exposureS, sensorTempC, light } = exposure
  const dark = darkE(parameters, exposureS, sensorTempC)
  const glow = glowE(parameters, exposureS, sensorTempC)
  for (let i = 0; i < out.length; i++) out[i] = dark * darkShape[i] + glow * glowShape[i]
  if (light) {
    const seconds = exposureS * (exposure.lightFactor ?? 1)
    for (let i = 0; i < out.length; i++) out[i] += light[i] * seconds * response[i]
  }
  const { index, rateEPerS, doublingK } = sensor.hot
  const warmer = sensorTempC - parameters.darkReferenceC
  for (let n = 0; n < index.length; n++) out[index[n]] += rateEPerS[n] * exposureS * 2 ** (warmer / doublingK[n])
  if (exposure.leakEPerS)
    for (let y = 0; y < height; y++) {
      const leak = exposure.leakEPerS * exposureS * (1 - (y + 0.5) / height)
      for (let x = 0; x < width; x++) out[y * width + x] += leak
    }
  for (let i = 0; i < out.length; i++) if (out[i] > parameters.fullWellE) out[i] = parameters.fullWellE
  return out
}

/**
 * The mean value of each pixel in ADU of the file, as infinitely many frames would give it; a pixel that full well or the
 * converter cuts off stands at its limit (within a few noises of that limit the true mean is a little lower).
 */
export function expectedAdu(
  sensor: Sensor,
  exposure: Exposure,
  out: Float32Array = new Float32Array(sensor.width * sensor.height),
): Float32Array {
  expectedElectrons(sensor, exposure, out)
  const { width, height, columnOffsetAdu, rowOffsetAdu, parameters } = sensor
  const perElectron = 1 / electronsPerAdu(parameters, exposure.gain)
  const pedestal = pedestalAdu(parameters, exposure.offset) + (exposure.pedestalStepAdu ?? 0)
  const most = fullScaleAdu(parameters)
  for (let y = 0; y < height; y++)
    for (let x = 0, i = y * width; x < width; x++, i++)
      out[i] = Math.min(most, Math.max(0, out[i] * perElectron + pedestal + columnOffsetAdu[x] + rowOffsetAdu[y]))
  return out
}

/** Temporal standard deviation in ADU of one pixel whose mean is `electrons`: shot and read noise, and the converter's rounding. */
export const noiseAdu = (sensor: Sensor, gain: number, electrons: number): number => noiseOf(sensor, gain)(electrons)

/** The same for many pixels at one gain. */
export function noiseOf({ parameters }: Sensor, gain: number): (electrons: number) => number {
  const perElectron2 = electronsPerAdu(parameters, gain) ** -2
  const read2 = readNoiseE(parameters, gain) ** 2
  const rounding2 = parameters.aduPerStep ** 2 / 12
  return (electrons) => Math.sqrt((electrons + read2) * perElectron2 + rounding2)
}

/** Above this mean a Gaussian stands in for Poisson's law: the same mean and variance, and no visible skew. */
const GAUSSIAN_FROM_E = 12

/**
 * One frame as the converter gives it, in ADU of the file.
 * @param random the frame's own stream
 * @param out as long as the sensor has pixels
 * @param scratch for the electrons, of the same length
 */
export function expose(
  sensor: Sensor,
  exposure: Exposure,
  random: Random,
  out: Uint16Array,
  scratch: Float32Array = new Float32Array(out.length),
): Uint16Array {
  const { width, height, columnOffsetAdu, rowOffsetAdu, parameters } = sensor
  const electrons = expectedElectrons(sensor, exposure, scratch)
  addCosmicRays(sensor, exposure.exposureS, random, electrons)
  const read = readNoiseE(parameters, exposure.gain)
  const read2 = read * read
  const { fullWellE, aduPerStep } = parameters
  const steps = 1 / electronsPerStep(parameters, exposure.gain)
  const pedestal = (pedestalAdu(parameters, exposure.offset) + (exposure.pedestalStepAdu ?? 0)) / aduPerStep + 0.5
  const most = fullScaleAdu(parameters) / aduPerStep
  for (let y = 0; y < height; y++) {
    const row = pedestal + rowOffsetAdu[y] / aduPerStep
    for (let x = 0, i = y * width; x < width; x++, i++) {
      const mean = electrons[i]
      let signal: number
      if (mean < GAUSSIAN_FROM_E) signal = random.poisson(mean) + read * random.gaussian()
      else if (mean < fullWellE) signal = Math.min(mean + Math.sqrt(mean + read2) * random.gaussian(), fullWellE)
      // A well that runs over always holds the same.
      else signal = fullWellE + read * random.gaussian()
      const value = signal * steps + row + columnOffsetAdu[x] / aduPerStep
      out[i] = value <= 0 ? 0 : (value >= most ? most : Math.floor(value)) * aduPerStep
    }
  }
  return out
}

/** Short bright tracks where particles crossed the sensor while it collected. */
function addCosmicRays(sensor: Sensor, exposureS: number, random: Random, electrons: Float32Array): void {
  const { parameters: p, width, height } = sensor
  const areaCm2 = width * height * (p.pixelUm * 1e-4) ** 2
  let hits = p.cosmicPerCm2Min * areaCm2 * (exposureS / 60)
  hits = Math.floor(hits) + (random.uniform() < hits % 1 ? 1 : 0)
  for (let n = 0; n < hits; n++) {
    let x = random.uniform() * width
    let y = random.uniform() * height
    const angle = random.uniform() * 2 * Math.PI
    const perPixelE = random.between(250, 2600)
    for (let left = 1 + 9 * random.uniform() ** 3; left > 0; left--) {
      const at = Math.floor(y) * width + Math.floor(x)
      if (x >= 0 && x < width && y >= 0 && y < height) electrons[at] = Math.min(p.fullWellE, electrons[at] + perPixelE)
      x += Math.cos(angle)
      y += Math.sin(angle)
    }
  }
}
