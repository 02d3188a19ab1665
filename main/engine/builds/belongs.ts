import type { Frame, SensorRules, Tolerances } from '../../contract/index.ts'
import { sayExposure, sayTemp } from '../../match/wording.ts'
import { temperatureOf } from '../../match/tolerance.ts'

/** Why a frame does not belong to its group, one sentence; null where it does. */
type Doubt = (frame: Frame) => string | null

/** Pixels that may be clipped in a good flat: hot ones, dust of a sensor; a thousandth. */
const CLIPPED_SHARE = 0.001
/** Five sigma, as for pixels; from the median absolute deviation, which two bad frames do not move. */
const SIGMAS = 5 * 1.4826

/**
 * Looks at each frame of a group beside the others. Temperatures come from headers; levels, light leaks, clipping and star trails
 * from the figures of the pixels, where they are measured already.
 */
export function doubtsOf(frames: readonly Frame[], rules: SensorRules, tolerances: Tolerances): Doubt {
  const doubts = [broken, warm(frames, tolerances)]
  if (frames[0]?.kind === 'flat') doubts.push(clipped, short(rules), flatLevel(frames), unevenFlat(frames))
  else doubts.push(darkLevel(frames), unevenDark(frames))
  return (frame) => {
    for (const doubt of doubts) {
      const reason = doubt(frame)
      if (reason) return reason
    }
    return null
  }
}

const broken: Doubt = (frame) => {
  if (frame.state === 'broken') return 'The file is cut short or damaged: copy it again from the camera computer.'
  if (frame.state === 'out of reach') return 'Its disk is not connected at the moment.'
  return null
}

/** Darks follow the temperature; a flat does not, within what a night brings. */
function warm(frames: readonly Frame[], { tempC, flatTempNoteC }: Tolerances): Doubt {
  const tolerance = frames[0]?.kind === 'flat' ? flatTempNoteC : tempC
  const median = medianOf(frames.flatMap((frame) => temperatureOf(frame) ?? []))
  return (frame) => {
    const own = temperatureOf(frame)
    if (own === null || median === null || Math.abs(own - median) <= tolerance + 1e-9) return null
    return `The sensor was at ${sayTemp(own)}, the others at ${sayTemp(median)}.`
  }
}

const clipped: Doubt = ({ figures }) => {
  if (!figures || figures.clippedHigh <= CLIPPED_SHARE * figures.width * figures.height) return null
  const percent = (100 * figures.clippedHigh) / (figures.width * figures.height)
  return `${percent < 1 ? percent.toFixed(1) : Math.round(percent)} % of its pixels are clipped.`
}

function short(rules: SensorRules): Doubt {
  return ({ exposureS }) =>
    exposureS !== null && exposureS < rules.floorS.value - 1e-9
      ? `It was exposed for ${sayExposure(exposureS)}, below the ${sayExposure(rules.floorS.value)} that this class of sensor needs.`
      : null
}

/** Flats of a twilight sky may differ much and serve; one at a third or at three times the level of the others does not. */
function flatLevel(frames: readonly Frame[]): Doubt {
  const median = medianOf(levels(frames))
  return ({ figures }) =>
    figures && median !== null && (figures.median < median / 3 || figures.median > median * 3)
      ? `Its level is ${adu(figures.median)}, the others' ${adu(median)}.`
      : null
}

/** The same illumination scatters over the frame in the same proportion; stars, clouds and shadows change that. */
function unevenFlat(frames: readonly Frame[]): Doubt {
  const ratio = ({ figures }: Frame) => (figures && figures.median > 0 ? figures.sd / figures.median : null)
  const isOff = outlier(
    frames.flatMap((frame) => ratio(frame) ?? []),
    (median) => 0.02 * median + 0.002,
  )
  return (frame) => {
    const own = ratio(frame)
    return own !== null && isOff(own) > 0 ? 'It is less even than the others: stars or a cloud are in it.' : null
  }
}

/** Levels of darks agree within a few ADU; the floor leaves two steps of 14-bit data, and half a per cent, to the thermometer. */
function darkLevel(frames: readonly Frame[]): Doubt {
  const all = levels(frames)
  const median = medianOf(all)
  const isOff = outlier(all, (level) => Math.max(8, 0.005 * level))
  return ({ figures }) => {
    if (!figures || median === null) return null
    const side = isOff(figures.median)
    if (side > 0)
      return `Its level is ${adu(figures.median)}, the others' ${adu(median)}: light got in, or it was warmer.`
    return side < 0 ? `Its level is ${adu(figures.median)}, the others' ${adu(median)}.` : null
  }
}

/** Light that leaks in from one side raises the scatter before it raises the median. */
function unevenDark(frames: readonly Frame[]): Doubt {
  const isOff = outlier(
    frames.flatMap((frame) => frame.figures?.sd ?? []),
    (sd) => 0.1 * sd + 2,
  )
  return ({ figures }) =>
    figures && isOff(figures.sd) > 0 ? 'It is less even than the others: light got in from one side.' : null
}

const levels = (frames: readonly Frame[]) => frames.flatMap((frame) => frame.figures?.median ?? [])

/** −1, 0 or 1: below, among or above the values; three or more of them make a judgement. */
function outlier(values: readonly number[], floor: (median: number) => number): (value: number) => -1 | 0 | 1 {
  const median = medianOf(values)
  if (median === null || values.length < 3) return () => 0
  const spread = medianOf(values.map((value) => Math.abs(value - median))) ?? 0
  const reach = Math.max(SIGMAS * spread, floor(Math.abs(median)))
  return (value) => (value > median + reach ? 1 : value < median - reach ? -1 : 0)
}

export function medianOf(values: readonly number[]): number | null {
  if (values.length === 0) return null
  const sorted = [...values].sort((a, b) => a - b)
  return (sorted[(sorted.length - 1) >> 1] + sorted[sorted.length >> 1]) / 2
}

/** 28 140 ADU */
const adu = (level: number) => `${Math.round(level).toLocaleString('en-GB').replaceAll(',', ' ')} ADU`
