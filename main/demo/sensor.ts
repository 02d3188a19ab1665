import { Random } from './random.ts'

/**
 * The stated parameters of a simulated sensor: the ground truth that tests of masters, check frames and photon transfer
 * hold themselves against. "ADU" is what stands in the file, of 16 bits; a "step" is one of the converter's, of 14 bits.
 */
export interface SensorParameters {
  name: string
  widthPx: number
  heightPx: number
  pixelUm: number
  cfa: 'RGGB'
  converterBits: number
  /** A step of the converter is so many ADU in the file. */
  aduPerStep: number
  fullWellE: number
  /** Gain setting 0; the setting counts tenths of a decibel: e⁻/step = this × 10^(−gain/200). */
  electronsPerStepAtGain0: number
  /** Of the pixel, in electrons at any gain; and of the converter, in steps. They add in quadrature. */
  pixelReadNoiseE: number
  converterNoiseSteps: number
  /** Pedestal of offset setting 0, and what one step of that setting adds. */
  pedestalAtOffset0Adu: number
  pedestalPerOffsetAdu: number
  /** Fixed offsets of whole columns and rows, standard deviations. */
  columnOffsetSdAdu: number
  rowOffsetSdAdu: number
  /** Dark current of an ordinary pixel at the reference temperature; it doubles every `darkDoublingK`. */
  darkReferenceC: number
  darkRateEPerS: number
  darkDoublingK: number
  /** Spread of that rate from pixel to pixel, relative. */
  darkSpread: number
  /** Hot pixels: fraction of all; rates at the reference temperature between these, most of them weak; own doubling. */
  hotFraction: number
  hotLeastEPerS: number
  hotMostEPerS: number
  hotDoublingLeastK: number
  hotDoublingMostK: number
  /**
   * Amplifier glow at its brightest pixel: rate × τ × (1 − e^(−t/τ)) electrons after t seconds at the reference temperature.
   * It fades as the exposure goes on, so twice the time is not twice the glow, and no scaled dark can fit.
   */
  glowRateEPerS: number
  glowFadesS: number
  glowDoublingK: number
  /** Photo response from pixel to pixel, relative standard deviation. */
  responseSd: number
  /** Particle hits. */
  cosmicPerCm2Min: number
}

export const heron11c: SensorParameters = {
  name: 'Heron 11C',
  widthPx: 4144,
  heightPx: 2822,
  pixelUm: 4.6,
  cfa: 'RGGB',
  converterBits: 14,
  aduPerStep: 4,
  fullWellE: 48_000,
  electronsPerStepAtGain0: 3.6,
  pixelReadNoiseE: 1.2,
  converterNoiseSteps: 0.85,
  pedestalAtOffset0Adu: 40,
  pedestalPerOffsetAdu: 16,
  columnOffsetSdAdu: 1.6,
  rowOffsetSdAdu: 1.0,
  darkReferenceC: -10,
  darkRateEPerS: 0.012,
  darkDoublingK: 6.4,
  darkSpread: 0.15,
  hotFraction: 6e-4,
  hotLeastEPerS: 0.1,
  hotMostEPerS: 30,
  hotDoublingLeastK: 5.5,
  hotDoublingMostK: 7.5,
  glowRateEPerS: 1.7,
  glowFadesS: 220,
  glowDoublingK: 18,
  responseSd: 0.006,
  cosmicPerCm2Min: 1,
}

/** One camera body: the parameters, cast into the pixels of one seed. Maps are row by row from the first stored pixel. */
export interface Sensor {
  parameters: SensorParameters
  width: number
  height: number
  seed: number
  columnOffsetAdu: Float32Array
  rowOffsetAdu: Float32Array
  /** Dark rate of each ordinary pixel over the mean rate. */
  darkShape: Float32Array
  /** Glow over its brightest pixel's. */
  glowShape: Float32Array
  /** Photo response about 1. */
  response: Float32Array
  hot: { index: Int32Array; rateEPerS: Float32Array; doublingK: Float32Array }
}

/** @param size in pixels; smaller than the maker's is a smaller sensor of the same kind, not a cut-out */
export function createSensor(parameters: SensorParameters, size: { width: number; height: number }, seed = 1): Sensor {
  const { width, height } = size
  const pixels = width * height
  const draw = (label: string) => new Random(seed, parameters.name, label)
  const spread = (label: string, length: number, mean: number, sd: number) => {
    const random = draw(label)
    const map = new Float32Array(length)
    for (let i = 0; i < length; i++) map[i] = Math.max(0.05 * mean, mean + sd * random.gaussian())
    return map
  }
  const offsets = (label: string, length: number, sd: number) => {
    const random = draw(label)
    return Float32Array.from({ length }, () => sd * random.gaussian())
  }
  return {
    parameters,
    width,
    height,
    seed,
    columnOffsetAdu: offsets('columns', width, parameters.columnOffsetSdAdu),
    rowOffsetAdu: offsets('rows', height, parameters.rowOffsetSdAdu),
    darkShape: spread('dark', pixels, 1, parameters.darkSpread),
    glowShape: glowShape(width, height),
    response: spread('response', pixels, 1, parameters.responseSd),
    hot: hotPixels(parameters, pixels, draw('hot')),
  }
}

/** e⁻ per ADU in the file at a gain setting (EMVA 1288's K is the inverse). */
export const electronsPerAdu = (p: SensorParameters, gain: number): number => electronsPerStep(p, gain) / p.aduPerStep

export const electronsPerStep = (p: SensorParameters, gain: number): number =>
  p.electronsPerStepAtGain0 * 10 ** (-gain / 200)

/** Temporal noise of a pixel without light or dark current, electrons, without the converter's rounding. */
export const readNoiseE = (p: SensorParameters, gain: number): number =>
  Math.hypot(p.pixelReadNoiseE, p.converterNoiseSteps * electronsPerStep(p, gain))

export const pedestalAdu = (p: SensorParameters, offset: number): number =>
  p.pedestalAtOffset0Adu + p.pedestalPerOffsetAdu * offset

/** Mean dark signal of an ordinary pixel, electrons. */
export const darkE = (p: SensorParameters, exposureS: number, tempC: number): number =>
  p.darkRateEPerS * exposureS * 2 ** ((tempC - p.darkReferenceC) / p.darkDoublingK)

/** Glow of the brightest pixel, electrons. */
export const glowE = (p: SensorParameters, exposureS: number, tempC: number): number =>
  p.glowRateEPerS *
  p.glowFadesS *
  -Math.expm1(-exposureS / p.glowFadesS) *
  2 ** ((tempC - p.darkReferenceC) / p.glowDoublingK)

/** Largest value that the converter can give, as it stands in the file. */
export const fullScaleAdu = (p: SensorParameters): number => (2 ** p.converterBits - 1) * p.aduPerStep

/** A fan from the right edge, fainter light from two corners. Whole at any size: places are fractions of the sensor. */
function glowShape(width: number, height: number): Float32Array {
  const map = new Float32Array(width * height)
  const aspect = height / width
  let brightest = 0
  for (let y = 0; y < height; y++) {
    const v = ((y + 0.5) / height) * aspect
    for (let x = 0; x < width; x++) {
      const u = (x + 0.5) / width
      const right = Math.hypot(1.012 - u, v - 0.44 * aspect)
      const fan = 0.75 + 0.25 * Math.cos(9 * Math.atan2(v - 0.44 * aspect, 1.012 - u))
      const lowerLeft = Math.hypot(u + 0.02, aspect * 1.02 - v)
      const upperRight = Math.hypot(1.02 - u, v + 0.02)
      const glow =
        fan / (1 + (right / 0.055) ** 2) +
        0.22 * fan * Math.exp(-right / 0.22) +
        0.16 * Math.exp(-lowerLeft / 0.08) +
        0.12 * Math.exp(-upperRight / 0.07)
      map[y * width + x] = glow
      if (glow > brightest) brightest = glow
    }
  }
  for (let i = 0; i < map.length; i++) map[i] /= brightest
  return map
}

function hotPixels(p: SensorParameters, pixels: number, random: Random): Sensor['hot'] {
  const places = new Set<number>()
  const count = Math.round(p.hotFraction * pixels)
  while (places.size < count) places.add(random.uint32() % pixels)
  const index = Int32Array.from(places).sort()
  const span = Math.log(p.hotMostEPerS / p.hotLeastEPerS)
  return {
    index,
    rateEPerS: Float32Array.from(index, () => p.hotLeastEPerS * Math.exp(span * random.uniform() ** 1.6)),
    doublingK: Float32Array.from(index, () => random.between(p.hotDoublingLeastK, p.hotDoublingMostK)),
  }
}
