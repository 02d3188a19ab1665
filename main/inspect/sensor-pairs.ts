import { Refusal } from '../contract/index.ts'
import { openImage, type Header } from '../fits/index.ts'
import type { FloorFrame } from './floor.ts'
import { pairFigures, photonTransfer, twoFlatsTwoDarks, type Level, type PairFigures } from './photon-transfer.ts'
import type { Estimate } from './statistics.ts'

/** What can be told of a sensor from named flats and darks. Gains in both languages: K in DN/e-, and e-/DN (e-/ADU). */
export interface SensorReport {
  gainDnPerE: Estimate
  ePerDn: Estimate
  temporalDarkNoiseE: Estimate
  temporalDarkNoiseDn: number
  /** Signal that was seen to saturate, e-; null where no level is beyond saturation. */
  saturationE: number | null
  linearityErrorPercent: { min: number; max: number } | null
  darkCurrentEPerS: Estimate | null
  levels: { exposureS: number | null; mean: number; variance: number; darkMean: number; darkVariance: number }[]
}

interface Frame {
  path: string
  exposureS: number | null
  pixels: ArrayLike<number>
  width: number
  height: number
}

/**
 * Gain and noise by photon transfer from flats and darks taken in pairs of equal exposure and settings.
 *
 * Two flats and two darks give one level; three or more levels give the whole curve. The lamp's drift between the two
 * frames of a pair is taken out.
 * @throws Refusal in one sentence when the files do not pair up
 */
export function measureSensor(flatPaths: string[], darkPaths: string[]): SensorReport {
  const flats = pairsByExposure(flatPaths, 'flats')
  const darks = pairsByExposure(darkPaths, 'darks')
  const levels = flats.map((flat): Level & { exposure: number | null } => {
    const dark = darks.find((d) => d.exposureS === flat.exposureS) ?? (darks.length === 1 ? darks[0] : null)
    if (!dark)
      throw new Refusal(
        `There are no two darks of ${flat.exposureS} s for the flats of that exposure: take two with the same settings.`,
      )
    return {
      bright: flat.figures,
      dark: dark.figures,
      exposureS: flat.exposureS ?? 0,
      exposure: flat.exposureS,
      photons: null,
    }
  })
  const most = (of: 'mean' | 'variance') => levels.reduce((a, b) => (b.bright[of] > a.bright[of] ? b : a))
  const noisiest = most('variance')
  const transfer = transferOf(levels)
  const figures = transfer ?? orRefuse(() => twoFlatsTwoDarks(noisiest.bright, noisiest.dark))
  // Beyond saturation the variance falls: where the brightest level has the greatest one, saturation was not reached.
  const saturates = transfer !== null && noisiest !== most('mean')
  return {
    gainDnPerE: figures.gainDnPerE,
    ePerDn: figures.ePerDn,
    temporalDarkNoiseE: figures.temporalDarkNoiseE,
    temporalDarkNoiseDn: figures.temporalDarkNoiseDn,
    saturationE: saturates ? transfer.saturationE : null,
    linearityErrorPercent: transfer?.linearityErrorPercent ?? null,
    darkCurrentEPerS: transfer?.darkCurrentEPerS ?? null,
    levels: levels.map(({ exposure, bright, dark }) => ({
      exposureS: exposure,
      mean: bright.mean,
      variance: bright.variance,
      darkMean: dark.mean,
      darkVariance: dark.variance,
    })),
  }
}

/**
 * Median level of each frame above the pedestal, with its exposure: what finding the floor needs.
 * @throws Refusal for a frame that does not state its exposure
 */
export function readLevels(paths: string[], pedestalAdu: number): FloorFrame[] {
  return paths.map((path) => {
    const { pixels, exposureS } = readFrame(path)
    if (!exposureS) throw new Refusal(`${path} does not state its exposure: name frames whose EXPTIME is more than 0.`)
    const step = Math.max(1, Math.floor(pixels.length / 250_000)) | 1
    const sample = Float64Array.from({ length: Math.ceil(pixels.length / step) }, (_, i) => pixels[i * step])
    // The mean of the middle half is finer than a median of whole steps, and no star moves it.
    const middle = sample.sort().subarray(sample.length >> 2, sample.length - (sample.length >> 2))
    return { exposureS, levelAdu: middle.reduce((sum, v) => sum + v, 0) / middle.length - pedestalAdu }
  })
}

/** The whole curve; null where the levels are too few, or too much alike: then one pair tells gain and noise. */
function transferOf(levels: Level[]) {
  if (levels.length < 3) return null
  try {
    return photonTransfer(levels)
  } catch (error) {
    if (error instanceof RangeError) return null
    throw error
  }
}

function orRefuse<T>(compute: () => T): T {
  try {
    return compute()
  } catch (error) {
    if (error instanceof RangeError) throw new Refusal(error.message)
    throw error
  }
}

/** Pairs of equal exposure, shortest first; only two frames are in memory at a time. */
function pairsByExposure(paths: string[], what: string): { exposureS: number | null; figures: PairFigures }[] {
  if (paths.length < 2 || paths.length % 2)
    throw new Refusal(`Name the ${what} in pairs of equal exposure: ${paths.length} of them cannot be paired.`)
  const byExposure = Map.groupBy(
    paths.map((path) => ({ path, exposureS: exposureOf(path) })),
    (f) => f.exposureS,
  )
  return [...byExposure.entries()]
    .sort(([a], [b]) => (a ?? 0) - (b ?? 0))
    .map(([exposureS, group]) => {
      if (group.length !== 2)
        throw new Refusal(
          `There are ${group.length} ${what} of ${exposureS ?? 'unknown'} s: name exactly two of each exposure.`,
        )
      const [a, b] = group.map(({ path }) => readFrame(path))
      if (a.width !== b.width || a.height !== b.height)
        throw new Refusal(`${a.path} and ${b.path} differ in size: a pair must be taken with the same settings.`)
      return { exposureS, figures: pairFigures(a.pixels, b.pixels, true) }
    })
}

function exposureOf(path: string): number | null {
  using image = openImage(path)
  return exposureIn(image.header)
}

const exposureIn = (header: Header) =>
  header.number('EXPTIME') ?? header.number('EXPOSURE') ?? header.number('XPOSURE') ?? null

function readFrame(path: string): Frame {
  using image = openImage(path)
  if (image.planes !== 1)
    throw new Refusal(`${path} holds ${image.planes} planes: name raw frames, as the camera wrote them.`)
  // Samples where they are the physical values, else physical values: figures are in ADU either way.
  const pixels = image.unsigned16 ? image.createRows(image.height) : new Float64Array(image.width * image.height)
  image.readRows(0, image.height, pixels)
  return {
    path,
    exposureS: exposureIn(image.header),
    pixels: pixels as ArrayLike<number>,
    width: image.width,
    height: image.height,
  }
}
