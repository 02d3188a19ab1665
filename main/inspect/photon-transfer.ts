import { estimate, fitLine, fitThroughOrigin, type Estimate } from './statistics.ts'

/**
 * Photon transfer: a sensor's gain and noise from pairs of equally exposed frames.
 *
 * Symbols and formulas follow EMVA 1288 (release 3.1, sections 2, 6 and 7, as its reference implementation computes them):
 * K is in DN per electron there. People of the trade say e-/ADU, its inverse; both are returned, each by its name.
 */

/** What a pair of equal exposures says, in DN (ADU) and DN². */
export interface PairFigures {
  mean: number
  /** Temporal variance of one frame: half the mean square difference of the two. */
  variance: number
  /** Pixels of one frame. */
  pixels: number
}

/** One light level: a bright pair and, at the same exposure, a dark pair. */
export interface Level {
  bright: PairFigures
  dark: PairFigures
  exposureS: number
  /** Mean photons per pixel, where the light source is calibrated; else null (then no responsivity can be told). */
  photons: number | null
}

/**
 * Mean and temporal variance of two frames of one exposure.
 *
 * With `removeDrift`, the difference of their means (a lamp that drifts) is taken out of the variance; EMVA 1288 release 4
 * does so, the published reference results do not.
 * @param a pixels, any numeric type
 * @param b as many pixels
 */
export function pairFigures(a: ArrayLike<number>, b: ArrayLike<number>, removeDrift = false): PairFigures {
  if (a.length !== b.length || a.length === 0)
    throw new RangeError(`The two frames of a pair must have the same size: ${a.length} and ${b.length} pixels.`)
  let sum = 0
  let difference = 0
  let squares = 0
  for (let i = 0; i < a.length; i++) {
    const d = a[i] - b[i]
    sum += a[i] + b[i]
    difference += d
    squares += d * d
  }
  const n = a.length
  const drift = removeDrift ? (difference / n) ** 2 / 2 : 0
  return { mean: sum / (2 * n), variance: squares / (2 * n) - drift, pixels: n }
}

export interface SensorFigures {
  gainDnPerE: Estimate
  ePerDn: Estimate
  temporalDarkNoiseDn: number
  temporalDarkNoiseE: Estimate
}

/**
 * Gain and dark noise from two flats and two darks of one exposure (Howell, Handbook of CCD Astronomy, 4.3; written out by
 * ESO for its detector monitoring): K = (σ²flat − σ²dark) / (µflat − µdark).
 *
 * Confidence: the variance of a pair of n pixels scatters by √(2/n) of itself; that is all that is counted here, so real
 * flats with structure scatter more.
 * @throws RangeError when the flats are not brighter and noisier than the darks
 */
export function twoFlatsTwoDarks(flats: PairFigures, darks: PairFigures): SensorFigures {
  const signal = flats.mean - darks.mean
  const variance = flats.variance - darks.variance
  if (!(signal > 0 && variance > 0))
    throw new RangeError(
      'The flats must be brighter and noisier than the darks: check that the four files are in the right order.',
    )
  const k = variance / signal
  const kError = (Math.hypot(flats.variance, darks.variance) * Math.sqrt(2 / flats.pixels)) / signal
  return withGain(k, kError, Infinity, darks.variance, darks.variance * Math.sqrt(2 / darks.pixels))
}

function withGain(
  k: number,
  kError: number,
  df: number,
  darkVariance: number,
  darkVarianceError: number,
): SensorFigures {
  // EMVA 1288: the quantisation noise of one DN, 1/12, is taken out; below 0.24 DN² it would dominate, so that is the floor.
  const floored = Math.max(darkVariance, 0.24)
  const darkE = Math.sqrt(floored - 1 / 12) / k
  const relative = Math.hypot(kError / k, darkVarianceError / (2 * (floored - 1 / 12)))
  return {
    gainDnPerE: estimate(k, kError, df),
    ePerDn: estimate(1 / k, kError / k ** 2, df),
    temporalDarkNoiseDn: Math.sqrt(floored),
    temporalDarkNoiseE: estimate(darkE, darkE * relative, df),
  }
}

export interface PhotonTransfer extends SensorFigures {
  /** Level with the greatest variance: the sensor saturates there. */
  saturation: Level
  saturationE: number
  snrMax: number
  /** Largest deviations from the line between 5 and 95 % of saturation, per cent. */
  linearityErrorPercent: { min: number; max: number }
  /** Mean dark signal and its growth, where darks of three or more exposures are there. */
  darkCurrentEPerS: Estimate | null
  /** DN per photon and quantum efficiency in per cent, where photons are known. */
  responsivity: number | null
  quantumEfficiencyPercent: number | null
  /** Indices into the levels: last one used for the gain, first and last for linearity. */
  used: { saturation: number; lastForGain: number; linearFrom: number; linearTo: number }
}

/**
 * The photon transfer of a whole series of levels, from dark to saturation, in order of exposure.
 * @throws RangeError with fewer than three levels below 70 % of saturation
 */
export function photonTransfer(levels: Level[]): PhotonTransfer {
  const saturation = levels.reduce(
    (best, level, i) => (level.bright.variance > levels[best].bright.variance ? i : best),
    0,
  )
  const signal = levels.map((l) => l.bright.mean - l.dark.mean)
  const shot = levels.map((l) => l.bright.variance - l.dark.variance)
  const inRange = (low: number, high: number) =>
    levels
      .map((_, i) => i)
      .filter((i) => signal[i] >= low * signal[saturation] && signal[i] <= high * signal[saturation])
  const forGain = inRange(0, 0.7)
  if (forGain.length < 3)
    throw new RangeError(
      'Photon transfer needs at least three light levels below 70 % of saturation: add shorter flats.',
    )
  const at = (values: number[], indices: number[]) => indices.map((i) => values[i])

  const { slope: k, slopeError: kError, df } = fitThroughOrigin(at(signal, forGain), at(shot, forGain))
  const dark = darkGrowth(levels)
  const figures = withGain(k, kError, df, dark.variance, dark.varianceError)

  const linear = inRange(0.05, 0.95)
  const stimulus = levels.map((l) => l.photons ?? l.exposureS)
  const line = fitLine(
    at(stimulus, linear),
    at(signal, linear),
    linear.map((i) => 1 / signal[i]),
  )
  const errors = linear.map((i) => (100 * signal[i]) / (line.intercept + line.slope * stimulus[i]) - 100)

  const photons = levels.every((l) => l.photons !== null) ? levels.map((l) => l.photons as number) : null
  const responsivity = photons ? fitThroughOrigin(at(photons, forGain), at(signal, forGain)).slope : null
  // With calibrated light, EMVA counts saturation in photons times efficiency; without, in electrons of the saturated level.
  const saturationE =
    photons && responsivity !== null ? (responsivity / k) * photons[saturation] : signal[saturation] / k
  return {
    ...figures,
    saturation: levels[saturation],
    saturationE,
    snrMax: Math.sqrt(saturationE),
    linearityErrorPercent: { min: Math.min(...errors), max: Math.max(...errors) },
    darkCurrentEPerS: dark.slope ? estimate(dark.slope.value / k, dark.slope.error / k, dark.slope.df) : null,
    responsivity,
    quantumEfficiencyPercent: responsivity === null ? null : (100 * responsivity) / k,
    used: {
      saturation,
      lastForGain: forGain[forGain.length - 1],
      linearFrom: linear[0],
      linearTo: linear[linear.length - 1],
    },
  }
}

/** Dark variance at zero exposure and growth of the dark mean: the intercept needs three exposures, else the first level serves. */
function darkGrowth(levels: Level[]) {
  const exposures = levels.map((l) => l.exposureS)
  const first = levels[0].dark
  if (new Set(exposures).size < 3)
    return { variance: first.variance, varianceError: first.variance * Math.sqrt(2 / first.pixels), slope: null }
  const variance = fitLine(
    exposures,
    levels.map((l) => l.dark.variance),
  )
  const mean = fitLine(
    exposures,
    levels.map((l) => l.dark.mean),
  )
  return {
    variance: variance.intercept,
    varianceError: variance.interceptError,
    slope: { value: mean.slope, error: mean.slopeError, df: mean.df },
  }
}

export interface SpatialFigures {
  /** Variance of the averaged frame over its pixels, less what temporal noise leaves in it, DN². */
  variance: number
  mean: number
}

/**
 * Fixed-pattern variance of L equal frames (EMVA 1288 section 8), population variance as the published results have it.
 * @param frames L ≥ 2 frames of equal size
 */
export function spatialFigures(frames: ArrayLike<number>[]): SpatialFigures {
  const count = frames.length
  const pixels = frames[0]?.length ?? 0
  if (count < 2 || frames.some((f) => f.length !== pixels))
    throw new RangeError('Spatial figures need at least two frames of equal size.')
  let total = 0
  let squares = 0
  let temporal = 0
  for (let i = 0; i < pixels; i++) {
    let sum = 0
    let sumOfSquares = 0
    for (const frame of frames) {
      sum += frame[i]
      sumOfSquares += frame[i] * frame[i]
    }
    const mean = sum / count
    total += mean
    squares += mean * mean
    temporal += (sumOfSquares - sum * mean) / (count - 1)
  }
  const mean = total / pixels
  return { mean, variance: squares / pixels - mean * mean - temporal / pixels / count }
}

/** DSNU in electrons and PRNU in per cent from the spatial figures of darks and of flats near half of saturation; null if negative. */
export function nonUniformity(dark: SpatialFigures, flat: SpatialFigures, gainDnPerE: number) {
  const dsnu = dark.variance
  const prnu = flat.variance - dark.variance
  return {
    dsnuE: dsnu >= 0 ? Math.sqrt(dsnu) / gainDnPerE : null,
    prnuPercent: prnu >= 0 ? (100 * Math.sqrt(prnu)) / (flat.mean - dark.mean) : null,
  }
}
