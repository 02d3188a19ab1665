import { sayExposure } from '../match/wording.ts'

/** What one flat, or the median of several, tells of its light source. ADU, as stored. */
export interface FlatLevel {
  exposureS: number | null
  medianAdu: number
  /** Median of the brightest colour; the median itself for mono. */
  brightestAdu: number
}

/** How the level of these flats follows their exposure: level = pedestal + rate × exposure. */
export interface LevelModel {
  pedestalAdu: number
  /** ADU of the median per second; null where the exposure is not known. */
  ratePerS: number | null
  /** The brightest colour over the median, pedestal off both. */
  brightestShare: number
  /** The level is at the end of the scale, so that the light may be brighter than it says. */
  clipped: boolean
  /** Number of flats behind a least-squares line; 0 where one level is taken in proportion. */
  fitted: number
}

/** What an advice has to keep to. */
export interface LevelLimits {
  /** The level wanted of the median. */
  targetAdu: number
  /** The brightest colour must stay below. */
  linearTopAdu: number
  floorS: number
}

/** From here on a level is taken for clipped, as a fraction of full scale. */
const clippedFrom = 0.97
/** A line that leaves a flat off by more than this fraction does not hold: the light changed meanwhile. */
const leastFit = 0.03
/** The line's pedestal may differ from the known one by this fraction of full scale, or the light changed meanwhile. */
const pedestalReach = 0.05

/**
 * Least squares over all flats shot under one light where they have two exposures or more and lie on one line; else the level of
 * `now` in proportion to its exposure, less the pedestal.
 * @param flats of one camera, settings and filter, `now`'s own among them
 */
export function modelLevels(
  flats: readonly FlatLevel[],
  now: FlatLevel,
  { pedestalAdu, fullAdu }: { pedestalAdu: number; fullAdu: number },
): LevelModel {
  const isSound = (flat: FlatLevel) => Math.max(flat.medianAdu, flat.brightestAdu) < clippedFrom * fullAdu
  const sound = flats.filter(isSound)
  const line = fitLine(sound)
  if (line && Math.abs(line.pedestalAdu - pedestalAdu) <= pedestalReach * fullAdu) {
    const shares = sound.map((flat) => shareOf(flat, line.pedestalAdu))
    return { ...line, brightestShare: Math.max(...shares), clipped: false, fitted: sound.length }
  }
  const net = now.medianAdu - pedestalAdu
  return {
    pedestalAdu,
    ratePerS: now.exposureS ? net / now.exposureS : null,
    brightestShare: shareOf(now, pedestalAdu),
    clipped: !isSound(now),
    fitted: 0,
  }
}

function shareOf({ medianAdu, brightestAdu }: FlatLevel, pedestalAdu: number): number {
  const share = (brightestAdu - pedestalAdu) / (medianAdu - pedestalAdu)
  return share >= 1 ? share : 1
}

/** Null with fewer than two exposures, a level that does not grow, or flats off the line. */
function fitLine(flats: readonly FlatLevel[]): { pedestalAdu: number; ratePerS: number } | null {
  const points = flats.flatMap(({ exposureS, medianAdu }) =>
    exposureS === null ? [] : [{ x: exposureS, y: medianAdu }],
  )
  const mean = (values: number[]) => values.reduce((a, b) => a + b, 0) / values.length
  const [mx, my] = [mean(points.map((p) => p.x)), mean(points.map((p) => p.y))]
  const spread = points.reduce((sum, p) => sum + (p.x - mx) ** 2, 0)
  // Exposures within a thousandth of each other are one and the same.
  if (!(spread > points.length * (0.001 * mx) ** 2)) return null
  const ratePerS = points.reduce((sum, p) => sum + (p.x - mx) * (p.y - my), 0) / spread
  const pedestalAdu = my - ratePerS * mx
  const holds = points.every((p) => Math.abs(p.y - pedestalAdu - ratePerS * p.x) <= leastFit * ratePerS * p.x)
  return ratePerS > 0 && holds ? { pedestalAdu, ratePerS } : null
}

/** The level to aim for, ADU of the median: the target, or less where the brightest colour would leave the linear range. */
export const aimOf = ({ pedestalAdu, brightestShare }: LevelModel, { targetAdu, linearTopAdu }: LevelLimits) =>
  Math.min(targetAdu, pedestalAdu + (linearTopAdu - pedestalAdu) / brightestShare)

/**
 * What brings flats to a level: "dim the panel to 68 %, or expose 2.0 s: below the 3 s floor, so dim". Per cents are of the
 * panel's present brightness. No number says more light than keeps the brightest colour in the linear range.
 * @param now what the flats are at
 * @param aimAdu the level wanted, at most `aimOf`
 */
export function adviseLevel(now: FlatLevel, model: LevelModel, aimAdu: number, limits: LevelLimits): string {
  const { exposureS } = now
  const { floorS } = limits
  const wanted = aimAdu - model.pedestalAdu
  const top = (limits.linearTopAdu - model.pedestalAdu) / model.brightestShare
  const isTimed = model.ratePerS !== null && exposureS !== null
  const reached = isTimed ? model.ratePerS! * exposureS : now.medianAdu - model.pedestalAdu
  if (!(reached > 0)) return 'no light reached them: is the panel on, and the cap off?'
  const atMost = model.clipped ? 'at most ' : ''
  const percentOf = (light: number) => `${atMost}${rounded((100 * wanted) / light, (100 * top) / light, 0)} %`
  const panel = `${wanted < reached ? 'dim' : 'brighten'} the panel to ${percentOf(reached)}`
  if (!isTimed) return panel
  const rate = model.ratePerS!
  const exposure = wanted / rate
  const expose = `expose ${atMost}${rounded(exposure, top / rate, exposure < 1 ? 3 : 1)} s`
  const isShort = exposure < floorS
  if (exposureS < floorS - 1e-6)
    return isShort ? `expose ${sayExposure(floorS)}, with the panel at ${percentOf(rate * floorS)}` : expose
  return `${panel}, or ${expose}${isShort ? `: below the ${sayExposure(floorS)} floor, so dim` : ''}`
}

/** As one types it in; rounded down where rounding to the nearest would pass the most that is allowed. */
function rounded(value: number, most: number, decimals: number): string {
  const step = 10 ** decimals
  const nearest = Math.round(value * step) / step
  return (nearest <= most ? nearest : Math.floor(most * step) / step).toFixed(decimals)
}
