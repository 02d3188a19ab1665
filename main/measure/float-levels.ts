import type { Figures } from '../contract/index.ts'
import { MAD_TO_SIGMA } from './constants.ts'
import { emptyLevels, type FrameShape, type Levels } from './levels.ts'
import { finiteCopy, medianOfValues, selectSmallest } from './select.ts'
import { isRgbPattern, neighboursOf } from './tally.ts'

type Values = Float32Array | Float64Array

/**
 * Figures of anything that is not 16-bit integers, from all of its physical values: medians by exact selection. NaN and infinities
 * count as undefined. Clipped are values of exactly 0 and 65535: what 16-bit data that became floats have at their ends.
 */
export function levelsOfValues(values: Values, shape: FrameShape): Levels {
  const finite = finiteCopy(values)
  if (finite.length === 0) return emptyLevels(shape)
  const { mean, sd, min, max } = moments(finite)
  const median = medianOfValues(finite)
  const last = finite.length - 1
  return {
    figures: {
      width: shape.width,
      height: shape.height,
      median,
      mean,
      sd,
      min,
      max,
      clippedLow: countOf(values, 0),
      clippedHigh: countOf(values, 65535),
      noise: noiseOf(values, shape),
      channels: channelsOf(values, shape),
    },
    step: null,
    dark: selectSmallest(finite, Math.floor(0.005 * last)),
    bright: selectSmallest(finite, Math.floor(0.998 * last)),
  }
}

function countOf(values: Values, value: number): number {
  let count = 0
  for (const x of values) if (x === value) count++
  return count
}

function moments(values: Values): { mean: number; sd: number; min: number; max: number } {
  let sum = 0
  let min = Infinity
  let max = -Infinity
  for (const x of values) {
    sum += x
    if (x < min) min = x
    if (x > max) max = x
  }
  const mean = sum / values.length
  let squares = 0
  for (const x of values) squares += (x - mean) * (x - mean)
  return { mean, sd: Math.sqrt(squares / values.length), min, max }
}

function noiseOf(values: Values, { width, height, cfa }: FrameShape): number {
  const { start, reach, rowParity } = neighboursOf(cfa)
  const rows = rowParity === 2 ? height : Math.ceil(height / 2)
  const differences = new Float64Array(Math.ceil(width / 2) * rows)
  let n = 0
  for (let y = 0; y < height; y++) {
    if (rowParity !== 2 && rowParity !== y % 2) continue
    for (let x = start; x + reach < width; x += 2) {
      const d = values[y * width + x + reach] - values[y * width + x]
      if (Number.isFinite(d)) differences[n++] = d
    }
  }
  if (n === 0) return 0
  const some = differences.subarray(0, n)
  const centre = medianOfValues(some)
  for (let i = 0; i < n; i++) some[i] = Math.abs(some[i] - centre)
  return (MAD_TO_SIGMA * medianOfValues(some)) / Math.SQRT2
}

function channelsOf(values: Values, { width, height, cfa }: FrameShape): Figures['channels'] {
  if (!isRgbPattern(cfa)) return null
  const channel = (letter: string) => {
    const places = [0, 1, 2, 3].filter((place) => cfa[place] === letter)
    const some = values.slice(0, places.length * Math.ceil(width / 2) * Math.ceil(height / 2))
    let n = 0
    for (const place of places)
      for (let y = place >> 1; y < height; y += 2)
        for (let x = place & 1; x < width; x += 2) {
          const value = values[y * width + x]
          if (Number.isFinite(value)) some[n++] = value
        }
    const of = some.subarray(0, n)
    return { mean: n ? moments(of).mean : NaN, median: medianOfValues(of) }
  }
  const channels = { R: channel('R'), G: channel('G'), B: channel('B') }
  return Object.values(channels).every((c) => Number.isFinite(c.mean)) ? channels : null
}
