import { finiteCopy, medianOfValues, selectSmallest } from '../measure/select.ts'
import { isRgbPattern } from '../measure/tally.ts'
import { blockMedians, interpolateRow, type BlockMap } from './block-map.ts'
import { normalSd, type MeasuredNoise } from './noise.ts'

export interface Picture {
  pixels: Float32Array
  width: number
  height: number
  /** Four letters from the first stored pixel; null for mono. */
  cfa: string | null
}

/** What a master is worth, ADU unless said otherwise. */
export interface MasterFigures {
  median: number
  /** Measured from the two halves of the stack; null with one frame. */
  noise: number | null
  /** Of one frame, and what that lets expect of so many. */
  frameNoise: number | null
  expectedNoise: number | null
  /** Darks: pixels more than `hotThresholdAdu` above their surroundings (block medians, interpolated); null for flats. */
  hotPixels: number | null
  /** Five times the noise of one frame: a hot pixel stands out in every single light. */
  hotThresholdAdu: number | null
  /** Darks: the brightest block above the darkest tenth of blocks, and the middle of that block, pixels from 0. */
  glowPeakAdu: number | null
  glowPeakAt: { x: number; y: number } | null
  flat: FlatFigures | null
}

export interface FlatFigures {
  /** How much darker the corners are than the middle, as a fraction. */
  vignetting: number
  /** Medians of the channels relative to green; null for mono. */
  balance: { R: number; G: number; B: number } | null
  /** Median over noise, per pixel: of the master and of one frame. */
  snr: number | null
  frameSnr: number | null
}

/** Side of a block of the glow map, pixels; even, so that every block holds all colours alike. */
export const BLOCK_PX = 64
/** Side of a block whose median a hot pixel is held against: small enough to follow the edge of a glow. */
const SURROUNDINGS_PX = 16
const HOT_SIGMAS = 5

/** The figures of a dark, dark flat or bias. */
export function darkFigures(picture: Picture, noise: MeasuredNoise | null): MasterFigures {
  const map = blockMedians(picture.pixels, picture.width, picture.height, BLOCK_PX)
  const near = blockMedians(picture.pixels, picture.width, picture.height, SURROUNDINGS_PX)
  const { hotPixels, hotThresholdAdu } = countHot(picture, near, noise?.frame ?? null)
  return {
    ...common(picture, noise),
    hotPixels,
    hotThresholdAdu,
    ...glowOf(map, picture),
    flat: null,
  }
}

/** The figures of a flat. */
export function flatFigures(picture: Picture, noise: MeasuredNoise | null): MasterFigures {
  const figures = common(picture, noise)
  const ratio = (sd: number | null) => (sd ? figures.median / sd : null)
  return {
    ...figures,
    hotPixels: null,
    hotThresholdAdu: null,
    glowPeakAdu: null,
    glowPeakAt: null,
    flat: {
      vignetting: vignettingOf(picture),
      balance: balanceOf(picture),
      snr: ratio(figures.noise),
      frameSnr: ratio(figures.frameNoise),
    },
  }
}

function common({ pixels }: Picture, noise: MeasuredNoise | null) {
  const finite = finiteCopy(pixels)
  return {
    median: medianOfValues(finite),
    noise: noise?.master ?? null,
    frameNoise: noise?.frame ?? null,
    expectedNoise: noise?.expected ?? null,
  }
}

/** Without a frame's noise (one frame only, or a master made elsewhere) the pixels' own scatter about the map stands in for it. */
function countHot(picture: Picture, map: BlockMap, frameNoise: number | null) {
  const noise = frameNoise ?? normalSd(sampleAbove(picture, map))
  const hotThresholdAdu = HOT_SIGMAS * noise
  let hotPixels = 0
  eachRowAbove(picture, map, 1, (above) => {
    for (let x = 0; x < above.length; x++) if (above[x] > hotThresholdAdu) hotPixels++
  })
  return { hotPixels, hotThresholdAdu }
}

/** Calls back with what every `step`-th row is above the map: one row's memory, used again. */
function eachRowAbove(
  { pixels, width, height }: Picture,
  map: BlockMap,
  step: number,
  see: (above: Float32Array) => void,
): void {
  const row = new Float32Array(width)
  for (let y = 0; y < height; y += step) {
    interpolateRow(map, y, row)
    for (let x = 0, at = y * width; x < width; x++, at++) row[x] = pixels[at] - row[x]
    see(row)
  }
}

/** About 400 000 values, from rows evenly taken. */
function sampleAbove(picture: Picture, map: BlockMap): Float32Array {
  const { width, height } = picture
  const step = Math.max(1, Math.floor((width * height) / 400_000))
  const sample = new Float32Array(Math.ceil(height / step) * width)
  let at = 0
  eachRowAbove(picture, map, step, (above) => {
    sample.set(above, at)
    at += width
  })
  return sample
}

/** Glow is what rises above the darkest tenth of the blocks; the median of a block is not moved by its hot pixels. */
function glowOf(map: BlockMap, { width, height }: Picture): Pick<MasterFigures, 'glowPeakAdu' | 'glowPeakAt'> {
  const known = map.medians.filter(Number.isFinite)
  if (known.length === 0) return { glowPeakAdu: null, glowPeakAt: null }
  let peak = 0
  map.medians.forEach((m, i) => {
    if (!(map.medians[peak] >= m) && Number.isFinite(m)) peak = i
  })
  const base = selectSmallest(known, Math.floor((known.length - 1) / 10))
  const middle = (index: number, size: number) =>
    Math.floor((index * map.blockPx + Math.min(size, (index + 1) * map.blockPx)) / 2)
  return {
    glowPeakAdu: map.medians[peak] - base,
    glowPeakAt: { x: middle(peak % map.columns, width), y: middle(Math.floor(peak / map.columns), height) },
  }
}

/** Mean of the four corners (a twentieth of the width and height each) against that of the middle tenth. */
function vignettingOf({ pixels, width, height }: Picture): number {
  const w = evenPart(width, 20)
  const h = evenPart(height, 20)
  const box = (x: number, y: number, bw: number, bh: number) => meanOfBox(pixels, width, x, y, bw, bh)
  const corners = [box(0, 0, w, h), box(width - w, 0, w, h), box(0, height - h, w, h), box(width - w, height - h, w, h)]
  const middle = box(
    Math.floor(width / 2) - w,
    Math.floor(height / 2) - h,
    Math.min(2 * w, width),
    Math.min(2 * h, height),
  )
  return 1 - corners.reduce((a, b) => a + b) / 4 / middle
}

/** Even sizes hold all colours of a filter array alike. */
function evenPart(size: number, part: number): number {
  return Math.max(1, Math.floor(size / part / 2) * 2)
}

function meanOfBox(pixels: Float32Array, width: number, x0: number, y0: number, w: number, h: number): number {
  let sum = 0
  let n = 0
  for (let y = Math.max(0, y0); y < y0 + h; y++)
    for (let x = Math.max(0, x0); x < x0 + w; x++) {
      const value = pixels[y * width + x]
      if (!Number.isFinite(value)) continue
      sum += value
      n++
    }
  return sum / n
}

function balanceOf({ pixels, width, height, cfa }: Picture): FlatFigures['balance'] {
  if (!isRgbPattern(cfa)) return null
  const medianOf = (letter: string) => {
    const places = [0, 1, 2, 3].filter((place) => cfa[place] === letter)
    const values = new Float32Array(places.length * Math.ceil(width / 2) * Math.ceil(height / 2))
    let n = 0
    for (const place of places)
      for (let y = place >> 1; y < height; y += 2)
        for (let x = place & 1; x < width; x += 2) {
          const value = pixels[y * width + x]
          if (Number.isFinite(value)) values[n++] = value
        }
    return medianOfValues(values.subarray(0, n))
  }
  const green = medianOf('G')
  return { R: medianOf('R') / green, G: 1, B: medianOf('B') / green }
}
