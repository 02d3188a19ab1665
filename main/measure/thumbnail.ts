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
  sums: ColumnSums,
  rows: readonly [number, number],
  base: number,
  cfa: string | null,
): void {
  if (picture.channels === 1) fillGrey(picture, row, factor, sums, base, (rows[0] + rows[1]) * factor)
  else fillColour(picture, row, factor, sums, rows, base, cfa!)
}

type ColumnSums = readonly [ArrayLike<number>, ArrayLike<number>]

function fillGrey(
  { width, values }: SmallPicture,
  row: number,
  factor: number,
  [even, odd]: ColumnSums,
  base: number,
  pixels: number,
): void {
  for (let x = 0; x < width; x++) {
    let sum = 0
    for (let column = x * factor; column < (x + 1) * factor; column++) sum += even[column] + odd[column]
    values[row * width + x] = base + sum / pixels
  }
}

/** The factor of a colour picture is even, so every pixel of it holds the four places of the filter array alike. */
function fillColour(
  { width, values }: SmallPicture,
  row: number,
  factor: number,
  [even, odd]: ColumnSums,
  rows: readonly [number, number],
  base: number,
  cfa: string,
): void {
  const [c0, c1, c2, c3] = [0, 1, 2, 3].map((place) => 'RGB'.indexOf(cfa[place]))
  const pixels = [0, 0, 0]
  for (const [place, channel] of [c0, c1, c2, c3].entries()) pixels[channel] += rows[place >> 1] * (factor / 2)
  const sums = new Float64Array(3)
  for (let x = 0, at = row * width * 3; x < width; x++) {
    let s0 = 0
    let s1 = 0
    let s2 = 0
    let s3 = 0
    for (let column = x * factor; column < (x + 1) * factor; column += 2) {
      s0 += even[column]
      s1 += even[column + 1]
      s2 += odd[column]
      s3 += odd[column + 1]
    }
    sums.fill(0)
    sums[c0] += s0
    sums[c1] += s1
    sums[c2] += s2
    sums[c3] += s3
    for (let channel = 0; channel < 3; channel++) values[at++] = base + sums[channel] / pixels[channel]
  }
}

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
  const perAdu = last / span
  for (let i = 0; i < data.length; i++) {
    const at = (picture.values[i] - dark) * perAdu
    data[i] = at >= last ? 255 : at > 0 ? curve[(at + 0.5) | 0] : 0
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
