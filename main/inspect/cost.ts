import { publishedDoublingC } from './dark-current.ts'

/**
 * What a near match would cost: the error left over when a dark of slightly other temperature or exposure is subtracted.
 * Nothing is ever scaled to make it fit; this only says how much would be wrong. Electrons and ADU.
 */

/** What is known of the dark signal under these settings. Unknown parts are null and stay out of the cost. */
export interface DarkSignal {
  /** Electrons per ADU. */
  ePerAdu: number
  /** Median dark current, e-/s, at `atC`. */
  meanEPerS: number | null
  /** 99.9th percentile of the pixels' dark current (hot pixels), e-/s, at `atC`. */
  tailEPerS: number | null
  atC: number
  /** Measured doubling temperature; null: the published range is used and said to be. */
  doublingC: number | null
  /** Peak of the glow at two exposures (the nearest masters), e-: glow does not grow in proportion to time. */
  glow: { exposureS: number; peakE: number }[]
}

/** Residual errors: of the whole frame's level, of the hot-pixel tail (99.9th percentile), of the glow at its peak. */
export interface Cost {
  mean: number
  tail: number
  glow: number
}

export interface PricedMismatch {
  costE: Cost
  costAdu: Cost
  /** Which doubling temperature was used, and whether it was measured on this camera. */
  doublingC: number
  doublingFrom: 'measured' | 'published'
}

/** Published doubling temperatures for cooled sensors near −10 °C lie between 6 and 8 K; 6.7 K at −10 °C by the e2v relation. */
const doublingOf = (signal: DarkSignal, tempC: number) =>
  signal.doublingC !== null
    ? ({ doublingC: signal.doublingC, doublingFrom: 'measured' } as const)
    : ({ doublingC: publishedDoublingC(tempC), doublingFrom: 'published' } as const)

/**
 * Price of subtracting a dark taken at `master` from a light taken at `light`.
 *
 * Dark current D at the light's temperature over t seconds: a dark warmer by dT takes away D·t·2^(dT/Td) instead of D·t.
 * Glow: linear between the two nearest measured exposures; with fewer it cannot be told and counts as zero.
 * @returns signed residuals, master minus light: positive means that too much is subtracted
 */
export function priceMismatch(
  signal: DarkSignal,
  light: { tempC: number; exposureS: number },
  master: { tempC: number; exposureS: number },
): PricedMismatch {
  const doubling = doublingOf(signal, light.tempC)
  const at = (rate: number | null, where: { tempC: number; exposureS: number }) =>
    rate === null ? 0 : rate * where.exposureS * 2 ** ((where.tempC - signal.atC) / doubling.doublingC)
  const costE: Cost = {
    mean: at(signal.meanEPerS, master) - at(signal.meanEPerS, light),
    tail: at(signal.tailEPerS, master) - at(signal.tailEPerS, light),
    glow: glowAt(signal.glow, master.exposureS) - glowAt(signal.glow, light.exposureS),
  }
  const inAdu = (e: number) => e / signal.ePerAdu
  return {
    costE,
    costAdu: { mean: inAdu(costE.mean), tail: inAdu(costE.tail), glow: inAdu(costE.glow) },
    ...doubling,
  }
}

/** Glow peak at an exposure: on the straight line through the two measured exposures nearest to it. */
function glowAt(glow: DarkSignal['glow'], exposureS: number): number {
  if (glow.length < 2) return 0
  const [a, b] = [...glow].sort((p, q) => Math.abs(p.exposureS - exposureS) - Math.abs(q.exposureS - exposureS))
  if (a.exposureS === b.exposureS) return a.peakE
  return a.peakE + ((b.peakE - a.peakE) * (exposureS - a.exposureS)) / (b.exposureS - a.exposureS)
}

/**
 * The yardstick: noise that a stack of lights would have anyway, √(read² + sky)/√lights, e-. A residual pattern repeats in each
 * light, so it does not average away and must be small against this; a residue equal for all pixels is harmless.
 */
export const stackNoiseE = (readNoiseE: number, skyE: number, lights: number) =>
  Math.sqrt(readNoiseE ** 2 + skyE) / Math.sqrt(Math.max(1, lights))

/**
 * Says in words what a priced mismatch means against the noise of the stack; a sentence without its full stop.
 * @param because what the price rests on
 */
export function weighCost(cost: Cost, noiseE: number, because: readonly string[] = []): string {
  const pattern = Math.max(Math.abs(cost.tail), Math.abs(cost.glow))
  const ratio = pattern / noiseE
  if (ratio < 0.1)
    return `The pattern left over is below a tenth of the noise of the stack: harmless${because.length ? ` (${because.join('; ')})` : ''}`
  const times = `${ratio < 10 ? ratio.toFixed(1) : Math.round(ratio)} times`
  const where = Math.abs(cost.tail) >= Math.abs(cost.glow) ? 'hot pixels' : 'the glow'
  const sign = (Math.abs(cost.tail) >= Math.abs(cost.glow) ? cost.tail : cost.glow) > 0 ? 'too dark' : 'too bright'
  return `It would leave ${where} ${sign} by ${times} the noise of the stack (${[`${pattern.toFixed(1)} e-`, ...because].join('; ')})`
}
