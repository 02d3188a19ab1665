import { isRgbPattern } from '../measure/tally.ts'
import {
  backgroundMap,
  backgroundMaps,
  pixelNoise,
  medianOf,
  regress,
  smoothed,
  subtractShapes,
  type BackgroundMap,
  type Channel,
} from './background.ts'
import type { Plane } from './block-map.ts'
import { calibrate, refuseUnequal } from './calibrate.ts'
import { mottle, mottleByChannel } from './mottle.ts'
import { proofText } from './proof-text.ts'

/** One light calibrated with its matched masters, and figures that say whether the set works. */

/** Figures of a light before or after calibration. ADU; `null` where it cannot be told (no glow, no sky). */
export interface ProofFigures {
  /** Difference that a plane through the background makes from corner to corner: sky gradients are part of it. */
  slopeAdu: number
  /** What is left of the dark's glow at its peak, ADU; positive is too bright (under-subtracted). */
  glowAdu: number | null
  /** Standard error of `glowAdu`: what the field's own unevenness leaves open. */
  glowErrorAdu: number | null
  /** The same over the noise of one pixel. */
  glowOverNoise: number | null
  /** What lies above the rest of the background where the dark itself glows, whatever its shape; null where it does not. */
  glowRegion: GlowRegion | null
  /** Part of the flat's vignetting that is still there: 1 uncorrected, 0 gone, negative over-corrected. */
  vignettingLeft: number | null
  /** Part of the flat's dust shadows that is still there. */
  shadowsLeft: number | null
  belowZero: number
  hotPixels: number
  /** Unevenness at 50 to 300 px beyond what noise makes, ADU. */
  mottleAdu: number
  /** The same in each colour alone; null for mono. A filter may be uneven in one colour only. */
  mottleByChannel: Record<Channel, number> | null
  noiseAdu: number
}

/** The part of a frame where the dark's glow is at least a quarter of its peak. */
export interface GlowRegion {
  /** Of the whole frame. */
  fraction: number
  /** Mean excess over the background outside, vignetting and dust taken out, ADU. */
  adu: number
  /** The same over the noise of one pixel. */
  overNoise: number
}

export interface Proof {
  calibrated: Float32Array
  figures: { before: ProofFigures; after: ProofFigures }
  /** Sentences for a person. */
  text: string
}

/**
 * Calibrates a light and measures it before and after.
 *
 * The background (block medians) is explained by four shapes at once: a plane, the dark's own glow, the flat's broad shape
 * and the flat's fine shape (dust). What each shape still contributes is what is left of it; a wrong dark shows as glow
 * that is over- or under-subtracted.
 * @param letters of the colour filter array from the first stored pixel ("RGGB"); null for mono, or where they are not known
 * @param out where the calibrated light goes; may be the dark's own memory
 */
export function prove(
  light: Plane,
  dark: Plane,
  flat: Plane,
  letters: string | null = null,
  out = new Float32Array(light.data.length),
): Proof {
  refuseUnequal(light, dark, flat)
  const darkMap = backgroundMap(dark)
  const darkNoise = pixelNoise(dark)
  const shapes = shapesOf(darkMap, darkNoise, flat)
  const pedestal = meanOf(darkMap.cellLevel)
  const hot = hotPixelsOf(dark, darkMap, pedestal + 8 * Math.max(darkNoise, 8))
  // The dark is not needed from here on.
  const calibrated = calibrate(light, dark, flat, out)
  const after = figuresOf({ ...light, data: calibrated }, 0, shapes, hot, letters)
  const before = figuresOf(light, pedestal, shapes, hot, letters)
  return { calibrated, figures: { before, after }, text: proofText(before, after) }
}

interface Shapes {
  across: Float64Array
  down: Float64Array
  one: Float64Array
  /** The dark's glow, ADU above its level, per block; all zero where there is none. */
  glow: Float64Array
  glowPeak: number
  /** Flat over its mean less one: broad shape, and what is finer. */
  broad: Float64Array
  fine: Float64Array
}

function shapesOf(d: BackgroundMap, noise: number, flat: Plane): Shapes {
  const floor = quantile(d.value, 0.2)
  const raised = d.value.map((v) => v - floor)
  const glowPeak = quantile(raised, 0.999)
  // Less than half the noise of the master is no glow that could be told from it.
  const glows = glowPeak > Math.max(0.5 * noise, 1)
  const f = backgroundMap(flat)
  const level = meanOf(f.cellLevel)
  const relative = f.value.map((v) => v / level)
  const broad = smoothed(relative, f.columns, f.rows, 4)
  const zero = new Float64Array(d.value.length)
  return {
    across: position(d, 'x'),
    down: position(d, 'y'),
    one: zero.map(() => 1),
    glow: glows ? raised : zero,
    glowPeak: glows ? glowPeak : 0,
    broad,
    fine: relative.map((v, i) => v - broad[i]),
  }
}

const position = (m: BackgroundMap, axis: 'x' | 'y') =>
  m.value.map((_, i) => {
    const [block, size] = axis === 'x' ? [i % m.columns, m.width] : [Math.floor(i / m.columns), m.height]
    return ((block + 0.5) * m.blockPx) / size - 0.5
  })

/** Positions where the dark stands out of its surroundings by what lies between its level and `limit`. */
function hotPixelsOf(dark: Plane, map: BackgroundMap, limit: number): Uint32Array {
  const found: number[] = []
  const { data, width, height } = dark
  for (let y = 0, i = 0; y < height; y++) {
    const row = Math.min(map.rows - 1, Math.floor(y / map.blockPx)) * map.columns
    for (let x = 0; x < width; x++, i++) {
      if (data[i] <= limit) continue
      const glow = map.value[row + Math.min(map.columns - 1, Math.floor(x / map.blockPx))]
      if (data[i] > limit + glow) found.push(i)
    }
  }
  return Uint32Array.from(found)
}

const meanOf = (levels: readonly number[]) => levels.reduce((a, b) => a + b) / levels.length

function figuresOf(
  frame: Plane,
  pedestal: number,
  shapes: Shapes,
  hot: Uint32Array,
  letters: string | null,
): ProofFigures {
  const isColour = isRgbPattern(letters)
  const { whole: map, channels } = isColour
    ? backgroundMaps(frame, letters)
    : { whole: backgroundMap(frame), channels: null }
  const noise = pixelNoise(frame)
  const sky = meanOf(map.cellLevel) - pedestal
  const all = allOf(shapes)
  const fit = regress(map.value, all)
  const [, across, down, glow, broad, fine] = fit.coefficient
  const [glowError, broadError, fineError] = jackknife(map, all).slice(3)
  const hasGlow = shapes.glowPeak > 0
  // Without sky there is nothing that vignetting could darken.
  const lit = sky > 0.5 * noise && sky > 0
  const tellable = (coefficient: number, error: number, most: number) =>
    lit && error / sky <= most ? coefficient / sky : null
  let below = 0
  const { data } = frame
  for (let i = 0; i < data.length; i++) if (data[i] < 0) below++
  return {
    slopeAdu: Math.abs(across) + Math.abs(down),
    glowAdu: hasGlow ? glow * shapes.glowPeak : null,
    glowErrorAdu: hasGlow ? glowError * shapes.glowPeak : null,
    glowOverNoise: hasGlow ? (glow * shapes.glowPeak) / noise : null,
    glowRegion: hasGlow ? glowRegion(map, shapes, fit.coefficient, noise) : null,
    vignettingLeft: tellable(broad, broadError, 0.15),
    shadowsLeft: tellable(fine, fineError, 0.25),
    belowZero: below,
    hotPixels: hotLeft(frame, hot, noise),
    mottleAdu: mottle(map, all, fit.coefficient, noise),
    mottleByChannel: isColour && channels ? mottleByChannel(frame, letters, channels, all) : null,
    noiseAdu: noise,
  }
}

/** The background where the dark glows, all shapes but the glow itself taken out of it, against what lies outside. */
function glowRegion(map: BackgroundMap, shapes: Shapes, coefficient: readonly number[], noise: number): GlowRegion {
  const others = coefficient.map((c, k) => (k === GLOW ? 0 : c))
  const rest = subtractShapes(map.value, allOf(shapes), others)
  const [inside, outside]: [number[], number[]] = [[], []]
  for (const [i, value] of rest.entries())
    if (Number.isFinite(value)) (shapes.glow[i] >= shapes.glowPeak / 4 ? inside : outside).push(value)
  const adu = medianOf(Float64Array.from(inside)) - medianOf(Float64Array.from(outside))
  return { fraction: inside.length / (inside.length + outside.length), adu, overNoise: adu / noise }
}

/**
 * Standard errors of the fit's coefficients by the jackknife over twelve tiles of the frame: a nebula is no white noise, and a
 * fit's own errors would know nothing of that. Tiles are left out one at a time (Quenouille 1956; Tukey 1958; from memory).
 */
function jackknife(map: BackgroundMap, shapes: Float64Array[]): number[] {
  const [across, down] = [4, 3]
  const tileOf = (i: number) =>
    Math.floor(((i % map.columns) * across) / map.columns) +
    across * Math.floor((Math.floor(i / map.columns) * down) / map.rows)
  const tiles = across * down
  // Some two thousand blocks tell an error well enough; all of a large frame's would take longer than the rest of the proof.
  const stride = Math.max(1, Math.floor(map.value.length / 2000)) | 1
  const blocks = Array.from({ length: Math.ceil(map.value.length / stride) }, (_, k) => ({ i: k * stride, tile: tileOf(k * stride) })) // prettier-ignore
  const fits = Array.from({ length: tiles }, (_, left) => {
    const kept = blocks.filter(({ tile }) => tile !== left)
    const of = (values: Float64Array) => Float64Array.from(kept, ({ i }) => values[i])
    return regress(of(map.value), shapes.map(of)).coefficient
  })
  return shapes.map((_, k) => {
    const mean = fits.reduce((sum, fit) => sum + fit[k], 0) / tiles
    return Math.sqrt(((tiles - 1) / tiles) * fits.reduce((sum, fit) => sum + (fit[k] - mean) ** 2, 0))
  })
}

/** How many of the dark's hot pixels still stand more than eight sigma off their neighbours of the same colour. */
function hotLeft(frame: Plane, hot: Uint32Array, noise: number): number {
  const step = frame.cfa ? 2 : 1
  const { data, width, height } = frame
  let count = 0
  for (const i of hot) {
    const x = i % width
    const y = (i - x) / width
    if (x < step || y < step || x >= width - step || y >= height - step) continue
    const around = [data[i - step], data[i + step], data[i - step * width], data[i + step * width]].sort(
      (a, b) => a - b,
    )
    if (Math.abs(data[i] - (around[1] + around[2]) / 2) > 8 * noise) count++
  }
  return count
}

/** Place of the glow among all shapes. */
const GLOW = 3

const allOf = ({ one, across, down, glow, broad, fine }: Shapes) => [one, across, down, glow, broad, fine]

function quantile(values: Float64Array, part: number): number {
  const sorted = Float64Array.from(values).sort()
  return sorted[Math.min(sorted.length - 1, Math.floor(part * sorted.length))]
}
