import { backgroundMap, medianOf } from './background.ts'
import type { Plane } from './block-map.ts'
import type { DarkSignal } from './cost.ts'
import { darkCurrent, doublingTemperature, type Doubling } from './dark-current.ts'
import { fitLine, type Estimate } from './statistics.ts'

/** What a dark master tells of the dark signal, ADU. */
export interface DarkLevels {
  medianAdu: number
  /** 99.9th percentile of the pixels above their surroundings: hot pixels. */
  tailAdu: number
  /** 99.99th percentile: well among the hot pixels even of a good sensor, so that it doubles as they do. */
  hotAdu: number
  /** Peak of the glow above the frame's level: 99.9th percentile of block medians less their 20th. */
  glowPeakAdu: number
}

/** The same with the settings under which it was taken. */
export interface DarkLevelsAt extends DarkLevels {
  exposureS: number
  tempC: number
}

/** Levels of one dark master. */
export function darkLevels(dark: Plane): DarkLevels {
  const map = backgroundMap(dark)
  const sorted = Float64Array.from(map.value).sort()
  const at = (values: Float64Array, part: number) =>
    values[Math.min(values.length - 1, Math.floor(part * values.length))]
  const medianAdu = map.cellLevel.reduce((sum, level) => sum + level, 0) / 4
  // One pixel in a thousand: of a million pixels that is a thousand, known to some 3 %.
  const step = Math.max(1, Math.floor(dark.data.length / 1_000_000)) | 1
  const above: number[] = []
  for (let i = 0; i < dark.data.length; i += step) {
    const [x, y] = [i % dark.width, Math.floor(i / dark.width)]
    const block =
      Math.min(map.rows - 1, Math.floor(y / map.blockPx)) * map.columns +
      Math.min(map.columns - 1, Math.floor(x / map.blockPx))
    const value = dark.data[i] - medianAdu - map.value[block]
    if (Number.isFinite(value)) above.push(value)
  }
  const spread = Float64Array.from(above).sort()
  return {
    medianAdu,
    tailAdu: at(spread, 0.999),
    hotAdu: at(spread, 0.9999),
    glowPeakAdu: at(sorted, 0.999) - at(sorted, 0.2),
  }
}

/** Temperatures this close are one, °C; a doubling temperature needs them at least so far apart. */
const oneTemperatureC = 0.6
const leastSpanC = 3

/**
 * The dark signal near one temperature, from the masters of one camera at one gain, offset and readout. Rates come from how levels
 * grow with the exposure, so the pedestal drops out and nothing but masters is needed; the doubling temperature from hot pixels at
 * temperatures at least 3 °C apart.
 * @param ePerAdu 1 where the gain is unknown: the costs are then right in ADU only
 * @returns null where no two masters near that temperature differ in exposure
 */
export function darkSignal(levels: readonly DarkLevelsAt[], tempC: number, ePerAdu: number): DarkSignal | null {
  const near = nearestTemperature(levels, tempC)
  if (new Set(near.map((one) => one.exposureS)).size < 2) return null
  const grows = (of: (one: DarkLevelsAt) => number) =>
    Math.max(0, fitLine(near.map((one) => one.exposureS), near.map(of)).slope) * ePerAdu // prettier-ignore
  return {
    ePerAdu,
    meanEPerS: grows((one) => one.medianAdu),
    tailEPerS: grows((one) => one.tailAdu),
    atC: medianOf(Float64Array.from(near, (one) => one.tempC)),
    doublingC: measuredDoubling(levels)?.value ?? null,
    glow: near.map((one) => ({ exposureS: one.exposureS, peakE: one.glowPeakAdu * ePerAdu })),
  }
}

/** A dark master's levels, with the temporal noise of one of its frames where it is known, ADU. */
export interface NoisyLevels extends DarkLevelsAt {
  frameNoiseAdu: number | null
}

/**
 * Dark current from the masters nearest to a temperature at which there are three exposures.
 * @param gainDnPerE K
 * @returns null where there are not
 */
export function currentOf<T extends NoisyLevels>(
  levels: readonly T[],
  tempC: number,
  gainDnPerE: number,
): { ePerS: Estimate; atC: number; from: readonly T[] } | null {
  const near = nearestTemperature(levels, tempC, 3)
  const points = near.map(({ exposureS, tempC, medianAdu, frameNoiseAdu }) => ({
    exposureS,
    tempC,
    mean: medianAdu,
    variance: frameNoiseAdu === null ? null : frameNoiseAdu ** 2,
  }))
  const current = darkCurrent(points, gainDnPerE)
  const atC = medianOf(Float64Array.from(near, (one) => one.tempC))
  return current && { ePerS: current.ePerS, atC, from: near }
}

/** The masters at the temperature nearest to the one asked for at which there are so many exposures; none if nowhere. */
function nearestTemperature<T extends DarkLevelsAt>(levels: readonly T[], tempC: number, exposures = 2): T[] {
  const byCloseness = [...levels].sort((a, b) => Math.abs(a.tempC - tempC) - Math.abs(b.tempC - tempC))
  for (const { tempC: centre } of byCloseness) {
    const near = levels.filter((one) => Math.abs(one.tempC - centre) <= oneTemperatureC)
    if (new Set(near.map((one) => one.exposureS)).size >= exposures) return near
  }
  return []
}

/**
 * From masters of one exposure at several temperatures: what their hot pixels gathered. Exposures that lie at temperatures far
 * enough apart tell it together. Null where none does.
 */
export function measuredDoubling(levels: readonly DarkLevelsAt[]): Doubling | null {
  const series = [...Map.groupBy(levels, (one) => one.exposureS).values()].filter((same) => {
    const temps = same.map((one) => one.tempC)
    return Math.max(...temps) - Math.min(...temps) >= leastSpanC && same.every((one) => one.hotAdu > 0)
  })
  const points = series.flat().map(({ tempC, hotAdu, exposureS }) => ({ tempC, ePerS: hotAdu, series: exposureS }))
  return doublingTemperature(points)
}
