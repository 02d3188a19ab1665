import { medianOf } from './background.ts'
import type { FloorFrame } from './floor.ts'

/** One short exposure with the sensor's temperature; its level is as stored, pedestal included. */
export interface WarmFrame extends FloorFrame {
  tempC: number
}

export interface TemperatureGroup {
  /** Median of its frames, °C. */
  tempC: number
  /** ADU; null where no covered frame of about that temperature is known. */
  pedestalAdu: number | null
}

/** One exposure, cooled and uncooled. */
export interface ComparedExposure {
  exposureS: number
  /** Level above the pedestal, uncooled over cooled, less one. */
  levelChange: number
  levelDiffers: boolean
  /** Largest difference between two frames over their mean; null where there is one frame only. */
  jumpCooled: number | null
  jumpUncooled: number | null
  jumpDiffers: boolean
  /** Of each frame, ADU above the pedestal. */
  levelsCooledAdu: number[]
  levelsUncooledAdu: number[]
}

export interface FloorComparison {
  cooled: TemperatureGroup
  uncooled: TemperatureGroup
  pedestalDiffers: boolean | null
  points: ComparedExposure[]
  text: string
}

/** Frames further apart than this were taken cooled and uncooled, °C. */
const apartC = 5
/** As for the floor itself: one per cent. Common practice, no source. */
const limit = 0.01
/** Pedestals agree within two steps of 14-bit data in 16 bits, or half a per cent. */
const pedestalReach = (adu: number) => Math.max(8, 0.005 * adu)

/** The frames to both sides of the widest gap in temperature; null where none is wider than 5 °C. */
export function splitByTemperature<T extends { tempC: number }>(
  frames: readonly T[],
): { cooled: T[]; uncooled: T[] } | null {
  const sorted = frames.toSorted((a, b) => a.tempC - b.tempC)
  let [at, widest] = [0, apartC]
  for (let i = 1; i < sorted.length; i++) {
    const gap = sorted[i].tempC - sorted[i - 1].tempC
    if (gap > widest) [at, widest] = [i, gap]
  }
  return at ? { cooled: sorted.slice(0, at), uncooled: sorted.slice(at) } : null
}

/**
 * Whether level, jumps from frame to frame and pedestal differ between a cooled and an uncooled sensor, at each exposure that
 * both have, under one steady light. A pedestal that is known for one of the two only is taken for both.
 * @param pedestalsAdu at least one of them known
 */
export function compareTemperatures(
  cooled: readonly WarmFrame[],
  uncooled: readonly WarmFrame[],
  pedestalsAdu: { cooled: number | null; uncooled: number | null },
): FloorComparison {
  const pedestals = {
    cooled: pedestalsAdu.cooled ?? pedestalsAdu.uncooled ?? 0,
    uncooled: pedestalsAdu.uncooled ?? pedestalsAdu.cooled ?? 0,
  }
  const warm = byExposure(uncooled, pedestals.uncooled)
  const points = [...byExposure(cooled, pedestals.cooled)]
    .filter(([exposureS]) => warm.has(exposureS))
    .sort(([a], [b]) => a - b)
    .map(([exposureS, levels]) => comparePoint(exposureS, levels, warm.get(exposureS)!))
  const group = (frames: readonly WarmFrame[], pedestalAdu: number | null) => ({
    tempC: median(frames.map((f) => f.tempC)),
    pedestalAdu,
  })
  const { cooled: low, uncooled: high } = pedestalsAdu
  const compared = {
    cooled: group(cooled, low),
    uncooled: group(uncooled, high),
    pedestalDiffers: low === null || high === null ? null : Math.abs(high - low) > pedestalReach(low),
    points,
  }
  return { ...compared, text: sentence(compared) }
}

const median = (values: number[]) => medianOf(Float64Array.from(values))

const byExposure = (frames: readonly WarmFrame[], pedestalAdu: number) =>
  new Map(
    [...Map.groupBy(frames, (f) => f.exposureS)].map(([s, group]) => [s, group.map((f) => f.levelAdu - pedestalAdu)]),
  )

function comparePoint(exposureS: number, cooled: number[], uncooled: number[]): ComparedExposure {
  const [jumpCooled, jumpUncooled] = [jumpOf(cooled), jumpOf(uncooled)]
  const levelChange = median(uncooled) / median(cooled) - 1
  return {
    exposureS,
    levelChange,
    // Levels that jump about by more than they differ do not tell a difference.
    levelDiffers: Math.abs(levelChange) > Math.max(limit, jumpCooled ?? 0, jumpUncooled ?? 0),
    jumpCooled,
    jumpUncooled,
    jumpDiffers: jumpCooled !== null && jumpUncooled !== null && Math.abs(jumpUncooled - jumpCooled) > limit,
    levelsCooledAdu: cooled,
    levelsUncooledAdu: uncooled,
  }
}

const jumpOf = (levels: number[]) =>
  levels.length < 2
    ? null
    : (Math.max(...levels) - Math.min(...levels)) / (levels.reduce((a, b) => a + b) / levels.length)

const percent = (fraction: number) => `${(100 * Math.abs(fraction)).toFixed(1)} %`
const degrees = (tempC: number) => `${tempC.toFixed(1).replace('-', '−')} °C`

function sentence({ cooled, uncooled, pedestalDiffers, points }: Omit<FloorComparison, 'text'>): string {
  if (!points.length)
    return 'The cooled and the uncooled frames have no exposure in common: shoot the same exposures both ways.'
  const parts = points.map((point) => `at ${point.exposureS} s ${sayPoint(point)}`)
  return `Uncooled (${degrees(uncooled.tempC)}) against cooled (${degrees(cooled.tempC)}): ${[...parts, sayPedestal(cooled, uncooled, pedestalDiffers)].join('; ')}.`
}

function sayPoint({ levelChange, levelDiffers, jumpCooled, jumpUncooled, jumpDiffers }: ComparedExposure): string {
  const level = levelDiffers
    ? `the level is ${percent(levelChange)} ${levelChange > 0 ? 'higher' : 'lower'}`
    : 'the level is the same'
  if (jumpCooled === null || jumpUncooled === null) return `${level} (jumps need two frames each)`
  return `${level} and ${jumpDiffers ? `jumps by ${percent(jumpUncooled)} instead of ${percent(jumpCooled)}` : 'jumps no differently'}`
}

function sayPedestal(cooled: TemperatureGroup, uncooled: TemperatureGroup, differs: boolean | null): string {
  if (cooled.pedestalAdu === null || uncooled.pedestalAdu === null)
    return `the pedestal ${cooled.pedestalAdu === null ? 'cooled' : 'uncooled'} is not known (log a dark flat of that temperature)`
  const change = uncooled.pedestalAdu - cooled.pedestalAdu
  return differs
    ? `the pedestal is ${Math.abs(change).toFixed(0)} ADU ${change > 0 ? 'higher' : 'lower'}`
    : 'the pedestal is the same'
}
