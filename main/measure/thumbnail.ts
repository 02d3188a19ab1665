import { encodePng } from './png.ts'
import { isRgbPattern } from './tally.ts'
import type { FrameShape, Levels } from './levels.ts'

/** Width that pictures in lists are made for, pixels. */
export const THUMBNAIL_WIDTH = 420

/** How many pixels of the frame go into one of the picture, in either direction; even for a filter array, so that each holds all colours. */
export function shrinkFactor({ width, height, cfa }: FrameShape, wanted = THUMBNAIL_WIDTH): number {
  const factor = Math.max(1, Math.ceil(width / wanted))
  const even = isRgbPattern(cfa) ? factor + (factor % 2) : factor
  return Math.max(1, Math.min(even, width, height))
}

/** A shrunken frame: mean values, ADU, row by row as stored; three channels for a filter array, else one. */
export interface SmallPicture {
  width: number
  height: number
  channels: 1 | 3
  values: Float32Array
}

export function createPicture(shape: FrameShape, factor: number): SmallPicture {
  const width = Math.floor(shape.width / factor)
  const height = Math.floor(shape.height / factor)
  const channels = isRgbPattern(shape.cfa) && factor > 1 ? 3 : 1
  return { width, height, channels, values: new Float32Array(width * height * channels) }
}

/**
 * One row of the picture from the column sums of `factor` rows of the frame.
 * @param sums of even and of odd rows
 * @param rows how many even and odd rows went into them
 */
export function fillRow(
  picture: SmallPicture,
  row: number,
  factor: number,
  sums: readonly [ArrayLike<number>, ArrayLike<number>],
  rows: readonly [number, number],
  base: number,
  cfa: string | null,
): void {
  const { width, channels, values } = picture
  const [even, odd] = sums
  // Sums and counts of the four places of a filter array: row parity × 2 + column parity.
  const total = new Float64Array(4)
  const count = new Float64Array(4)
  for (let x = 0; x < width; x++) {
    const start = x * factor
    const end = start + factor
    let [a, b, c, d] = [0, 0, 0, 0]
    for (let column = start + (start & 1); column < end; column += 2) {
      a += even[column]
      c += odd[column]
    }
    for (let column = start + 1 - (start & 1); column < end; column += 2) {
      b += even[column]
      d += odd[column]
    }
    total[0] = a
    total[1] = b
    total[2] = c
    total[3] = d
    const evenColumns = (factor + 1 - (start & 1)) >> 1
    count[0] = rows[0] * evenColumns
    count[1] = rows[0] * (factor - evenColumns)
    count[2] = rows[1] * evenColumns
    count[3] = rows[1] * (factor - evenColumns)
    for (let channel = 0; channel < channels; channel++) {
      let sum = 0
      let pixels = 0
      for (let place = 0; place < 4; place++) {
        if (channels === 3 && cfa!.charCodeAt(place) !== LETTERS[channel]) continue
        sum += total[place]
        pixels += count[place]
      }
      values[(row * width + x) * channels + channel] = base + sum / pixels
    }
  }
}

const LETTERS = [...'RGB'].map((letter) => letter.charCodeAt(0))

/** Even and odd rows among the `factor` rows of a picture's row. */
export function parities(row: number, factor: number): [number, number] {
  const even = (row * factor) % 2 === 0 ? Math.ceil(factor / 2) : Math.floor(factor / 2)
  return [even, factor - even]
}

/** All of a picture from physical values in memory; what is not a number counts as 0. */
export function shrinkValues(
  values: Float32Array | Float64Array,
  width: number,
  factor: number,
  picture: SmallPicture,
  cfa: string | null,
): void {
  for (let row = 0; row < picture.height; row++) {
    const sums: [Float64Array, Float64Array] = [new Float64Array(width), new Float64Array(width)]
    for (let y = row * factor; y < (row + 1) * factor; y++)
      for (let x = 0; x < width; x++) {
        const value = values[y * width + x]
        if (Number.isFinite(value)) sums[y % 2][x] += value
      }
    fillRow(picture, row, factor, sums, parities(row, factor), 0, cfa)
  }
}

/** Brightness of the frame's median in the picture, of 1. */
const MEDIAN_SHOWN_AT = 0.25

/**
 * An 8-bit PNG, brightened for viewing: from the darkest 0.5 % to the brightest 0.2 % through an asinh curve (Lupton et al. 2004,
 * PASP 116, 133) that shows the median at a quarter of full brightness. All channels go through the same curve.
 */
export function encodePicture(
  picture: SmallPicture,
  levels: Pick<Levels, 'dark' | 'bright'> & { figures: Pick<Levels['figures'], 'median'> },
): Uint8Array {
  const { dark, bright, figures } = levels
  const span = Math.max(bright - dark, 1e-6 * Math.max(1, Math.abs(bright)))
  const softening = softeningFor(Math.min(0.9, Math.max(0, (figures.median - dark) / span)))
  const curve = tabulate(softening)
  const data = new Uint8Array(picture.values.length)
  const last = curve.length - 1
  for (let i = 0; i < data.length; i++) {
    const t = (picture.values[i] - dark) / span
    data[i] = t >= 1 ? 255 : t > 0 ? curve[Math.round(t * last)] : 0
  }
  return encodePng(picture.width, picture.height, picture.channels, data)
}

/** The curve from 0 to 1 in steps finer than a grey level at its steepest. */
function tabulate(softening: number): Uint8Array {
  const top = Math.asinh(1 / softening)
  return Uint8Array.from({ length: 8192 }, (_, i) => Math.round((255 * Math.asinh(i / 8191 / softening)) / top))
}

/** The asinh curve's softening with which `t` comes out at MEDIAN_SHOWN_AT; as good as linear where `t` is brighter already. */
function softeningFor(t: number): number {
  if (t >= MEDIAN_SHOWN_AT || t <= 0) return t <= 0 ? 0.1 : 100
  let low = 1e-6
  let high = 100
  for (let i = 0; i < 60; i++) {
    const middle = Math.sqrt(low * high)
    if (Math.asinh(t / middle) / Math.asinh(1 / middle) > MEDIAN_SHOWN_AT) low = middle
    else high = middle
  }
  return Math.sqrt(low * high)
}
