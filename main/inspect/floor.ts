import { medianOf } from './background.ts'

/** One short exposure of a steady light source: the level that it reached above the pedestal, ADU. */
export interface FloorFrame {
  exposureS: number
  levelAdu: number
}

/** All frames of one exposure. */
export interface FloorPoint {
  exposureS: number
  frames: number
  /** Median level per second, ADU/s: constant where the shutter and readout keep time. */
  rateAduPerS: number
  /** Rate over the rate of the longest exposures, less one. */
  departure: number
  /** Largest difference between two frames of this exposure, over their mean. */
  jump: number
  steady: boolean
  /** Of each frame, ADU above the pedestal. */
  levelsAdu: number[]
}

export interface SensorFloor {
  /** Shortest exposure from which every longer one is steady too; null if not even the longest two are. */
  floorS: number | null
  points: FloorPoint[]
  text: string
}

/** Levels may depart by one per cent, and jump by one per cent, before an exposure counts as unsteady. Common practice, no source. */
const limit = 0.01

/**
 * The sensor's own floor: the shortest exposure whose level follows the exposure and does not jump from frame to frame.
 * @param frames at least two frames at each of at least three exposures, of one light source at one brightness
 * @throws RangeError when there are too few
 */
export function findFloor(frames: FloorFrame[]): SensorFloor {
  const byExposure = Map.groupBy(frames, (f) => f.exposureS)
  if (byExposure.size < 3 || [...byExposure.values()].some((group) => group.length < 2))
    throw new RangeError(
      'Finding the floor needs at least three exposures with two frames each, on a steady light source.',
    )
  const exposures = [...byExposure.keys()].sort((a, b) => a - b)
  const rateOf = (exposureS: number) => median(byExposure.get(exposureS)!.map((f) => f.levelAdu)) / exposureS
  const reference = median(exposures.slice(-2).map(rateOf))
  const points = exposures.map((exposureS): FloorPoint => {
    const levels = byExposure.get(exposureS)!.map((f) => f.levelAdu)
    const rate = rateOf(exposureS)
    const departure = rate / reference - 1
    const mean = levels.reduce((a, b) => a + b) / levels.length
    const jump = (Math.max(...levels) - Math.min(...levels)) / mean
    const steady = Math.abs(departure) <= limit && jump <= limit
    return { exposureS, frames: levels.length, rateAduPerS: rate, departure, jump, steady, levelsAdu: levels }
  })
  const lastUnsteady = points.findLastIndex((p) => !p.steady)
  const floorS = lastUnsteady < points.length - 2 ? points[lastUnsteady + 1].exposureS : null
  return { floorS, points, text: sentence(floorS, points, lastUnsteady) }
}

const median = (values: number[]) => medianOf(Float64Array.from(values))
const percent = (fraction: number) => `${(100 * Math.abs(fraction)).toFixed(1)} %`

function sentence(floorS: number | null, points: FloorPoint[], lastUnsteady: number): string {
  if (floorS === null) return 'No steady exposure was found: let the light source warm up, and add longer exposures.'
  if (lastUnsteady < 0) return `Steady from ${floorS} s, the shortest exposure tried: the floor may lie lower.`
  const { exposureS, departure, jump } = points[lastUnsteady]
  const how =
    jump > Math.abs(departure)
      ? `levels jump by ${percent(jump)} from frame to frame`
      : `the level is off by ${percent(departure)} from what its exposure should give`
  return `Steady from ${floorS} s on; at ${exposureS} s ${how}.`
}
