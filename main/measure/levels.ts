import type { Figures } from '../contract/index.ts'
import { MAD_TO_SIGMA } from './constants.ts'
import * as histogram from './histogram.ts'
import { isRgbPattern, type Tally } from './tally.ts'

export interface FrameShape {
  width: number
  height: number
  /** Four letters from the first stored pixel, row by row; null for mono. */
  cfa: string | null
}

/** Figures, and what a picture needs to be brightened. */
export interface Levels {
  figures: Figures
  /** Smallest difference between two levels, ADU: 1, or 4 and 16 for 14- and 12-bit data shifted up; 0 for one level, null for floats. */
  step: number | null
  /** ADU below which 0.5 %, and 99.8 %, of the pixels lie. */
  dark: number
  bright: number
}

/**
 * Figures of 16-bit data from what was counted: exact to the last digit of float64.
 * @param base physical value of bin 0 (0 for unsigned cameras)
 * @param blankBin bin of undefined pixels, null if the header names none
 */
export function levelsOfTally(tally: Tally, shape: FrameShape, base: number, blankBin: number | null): Levels {
  const places = tally.places.map((place) => place.slice())
  if (blankBin !== null) for (const place of places) place[blankBin] = 0
  const all = histogram.added(...places)
  const total = histogram.totalOf(all)
  const range = histogram.rangeOf(all)
  if (!range) return emptyLevels(shape)
  const [first, last] = range
  const mean = histogram.sumOf(all) / total
  const step = histogram.stepOf(all)
  const noise = (MAD_TO_SIGMA * histogram.medianDeviationOf(tally.differences)) / Math.SQRT2
  return {
    figures: {
      width: shape.width,
      height: shape.height,
      median: base + histogram.medianOf(all, total),
      mean: base + mean,
      sd: histogram.sdOf(all, mean, total),
      min: base + first,
      max: base + last,
      clippedLow: all[0],
      clippedHigh: clippedHigh(all, first, last, step),
      noise: Number.isFinite(noise) ? noise : 0,
      channels: channelsOf(places, shape.cfa, base),
    },
    step,
    dark: base + histogram.rankOf(all, Math.floor(0.005 * (total - 1))),
    bright: base + histogram.rankOf(all, Math.floor(0.998 * (total - 1))),
  }
}

/**
 * Pixels at the top of the scale: the highest 16-bit value, or the highest that data in steps of 4 or 16 can have (14- and 12-bit
 * data shifted up). Unshifted 10-, 12- and 14-bit data are known by a pile at their top value: at least eight pixels, and more than
 * four times as many as one level below.
 */
function clippedHigh(all: Uint32Array, first: number, last: number, step: number): number {
  const top = step === 4 || step === 16 ? 65536 - step : 65535
  if (last === top && (first < top || top === 65535)) return all[top]
  const unshifted = last === 1023 || last === 4095 || last === 16383
  return unshifted && all[last] >= 8 && all[last] > 4 * all[last - 1] ? all[last] : 0
}

function channelsOf(places: Uint32Array[], cfa: string | null, base: number): Figures['channels'] {
  if (!isRgbPattern(cfa)) return null
  const channel = (letter: string) => {
    const of = histogram.added(...places.filter((_, place) => cfa[place] === letter))
    const total = histogram.totalOf(of)
    return { median: base + histogram.medianOf(of, total), mean: base + histogram.sumOf(of) / total }
  }
  const channels = { R: channel('R'), G: channel('G'), B: channel('B') }
  return Object.values(channels).every((c) => Number.isFinite(c.mean)) ? channels : null
}

/** A frame in which no pixel is defined. */
export function emptyLevels({ width, height }: FrameShape): Levels {
  const nothing = { median: 0, mean: 0, sd: 0, min: 0, max: 0, clippedLow: 0, clippedHigh: 0, noise: 0 }
  return { figures: { width, height, ...nothing, channels: null }, step: null, dark: 0, bright: 0 }
}
