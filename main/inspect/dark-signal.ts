import { backgroundMap, medianOf } from './background.ts'
import type { Plane } from './block-map.ts'
import type { DarkSignal } from './cost.ts'
import { doublingTemperature } from './dark-current.ts'
import { fitLine } from './statistics.ts'

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
    doublingC: measuredDoubling(levels),
    glow: near.map((one) => ({ exposureS: one.exposureS, peakE: one.glowPeakAdu * ePerAdu })),
  }
}

/** The masters at the temperature nearest to the one asked for at which there are two exposures; else just the nearest. */
function nearestTemperature(levels: readonly DarkLevelsAt[], tempC: number): DarkLevelsAt[] {
  const byCloseness = [...levels].sort((a, b) => Math.abs(a.tempC - tempC) - Math.abs(b.tempC - tempC))
  for (const { tempC: centre } of byCloseness) {
    const near = levels.filter((one) => Math.abs(one.tempC - centre) <= oneTemperatureC)
    if (new Set(near.map((one) => one.exposureS)).size >= 2) return near
  }
  return []
}

/** From masters of one exposure at several temperatures: what their hot pixels gathered. Null where they lie too close together. */
function measuredDoubling(levels: readonly DarkLevelsAt[]): number | null {
  for (const same of Map.groupBy(levels, (one) => one.exposureS).values()) {
    const temps = same.map((one) => one.tempC)
    if (Math.max(...temps) - Math.min(...temps) < leastSpanC) continue
    const doubling = doublingTemperature(same.map(({ tempC, hotAdu }) => ({ tempC, ePerS: hotAdu })))
    if (doubling) return doubling.value
  }
  return null
}
