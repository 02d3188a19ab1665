import { isRgbPattern } from '../measure/tally.ts'
import { backgroundMap, pixelNoise, regress, smoothed, type BackgroundMap, type Channel } from './background.ts'
import type { Plane } from './block-map.ts'
import { mottle, mottleByChannel } from './mottle.ts'

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

export interface Proof {
  calibrated: Float32Array
  figures: { before: ProofFigures; after: ProofFigures }
  /** Sentences for a person. */
  text: string
}

/**
 * (light − dark) / (flat / mean of flat), each colour cell by its own mean of the flat (so colours stay as they were).
 *
 * Computed in float64, stored as float32; nothing is clipped: pixels below zero are a fact about noise, not a fault.
 * Where the flat is not above zero the result is NaN.
 * @param light raw light, ADU
 * @param dark dark master, ADU
 * @param flat flat master (dark flat already subtracted), ADU
 */
export function calibrate(light: Plane, dark: Plane, flat: Plane): Float32Array {
  for (const master of [dark, flat])
    if (master.width !== light.width || master.height !== light.height)
      throw new RangeError(
        `The light is ${light.width} × ${light.height} px and a master ${master.width} × ${master.height} px: they must be of one size.`,
      )
  const mean = cellMeans(flat)
  const { width, height } = light
  const out = new Float32Array(width * height)
  for (let y = 0, i = 0; y < height; y++) {
    const even = mean[(y & 1) << 1]
    const odd = mean[((y & 1) << 1) | 1]
    for (let x = 0; x < width; x++, i++) {
      const f = flat.data[i]
      out[i] = f > 0 ? (light.data[i] - dark.data[i]) / (f / (x & 1 ? odd : even)) : NaN
    }
  }
  return out
}

/** Mean of each colour cell; for mono the mean of the frame four times. */
export function cellMeans(frame: Plane): [number, number, number, number] {
  const sums = [0, 0, 0, 0]
  const counts = [0, 0, 0, 0]
  for (let y = 0, i = 0; y < frame.height; y++)
    for (let x = 0; x < frame.width; x++, i++) {
      const v = frame.data[i]
      if (Number.isNaN(v)) continue
      const cell = ((y & 1) << 1) | (x & 1)
      sums[cell] += v
      counts[cell]++
    }
  if (frame.cfa) return sums.map((s, k) => s / counts[k]) as [number, number, number, number]
  const mean = sums.reduce((a, b) => a + b) / counts.reduce((a, b) => a + b)
  return [mean, mean, mean, mean]
}

/**
 * Calibrates a light and measures it before and after.
 *
 * The background (block medians) is explained by four shapes at once: a plane, the dark's own glow, the flat's broad shape
 * and the flat's fine shape (dust). What each shape still contributes is what is left of it; a wrong dark shows as glow
 * that is over- or under-subtracted.
 * @param letters of the colour filter array from the first stored pixel ("RGGB"); null for mono, or where they are not known
 */
export function prove(light: Plane, dark: Plane, flat: Plane, letters: string | null = null): Proof {
  const calibrated = calibrate(light, dark, flat)
  const darkMap = backgroundMap(dark)
  const darkNoise = pixelNoise(dark)
  const shapes = shapesOf(darkMap, darkNoise, flat)
  const pedestal = meanOf(darkMap.cellLevel)
  const hot = hotPixelsOf(dark, darkMap, pedestal + 8 * Math.max(darkNoise, 8))
  const after = figuresOf({ ...light, data: calibrated }, 0, shapes, hot, letters)
  const before = figuresOf(light, pedestal, shapes, hot, letters)
  return { calibrated, figures: { before, after }, text: sentences(before, after) }
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
  for (let y = 0, i = 0; y < dark.height; y++) {
    const row = Math.min(map.rows - 1, Math.floor(y / map.blockPx)) * map.columns
    for (let x = 0; x < dark.width; x++, i++) {
      if (dark.data[i] <= limit) continue
      const glow = map.value[row + Math.min(map.columns - 1, Math.floor(x / map.blockPx))]
      if (dark.data[i] > limit + glow) found.push(i)
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
  const map = backgroundMap(frame)
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
  for (let i = 0; i < frame.data.length; i++) if (frame.data[i] < 0) below++
  return {
    slopeAdu: Math.abs(across) + Math.abs(down),
    glowAdu: hasGlow ? glow * shapes.glowPeak : null,
    glowErrorAdu: hasGlow ? glowError * shapes.glowPeak : null,
    glowOverNoise: hasGlow ? (glow * shapes.glowPeak) / noise : null,
    vignettingLeft: tellable(broad, broadError, 0.15),
    shadowsLeft: tellable(fine, fineError, 0.25),
    belowZero: below,
    hotPixels: hotLeft(frame, hot, noise),
    mottleAdu: mottle(map, all, fit.coefficient, noise),
    mottleByChannel: isRgbPattern(letters) ? mottleByChannel(frame, letters, all) : null,
    noiseAdu: noise,
  }
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
  const fits = Array.from({ length: tiles }, (_, tile) => {
    const kept = (values: Float64Array) => values.filter((_, i) => i % stride === 0 && tileOf(i) !== tile)
    return regress(kept(map.value), shapes.map(kept)).coefficient
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

const allOf = ({ one, across, down, glow, broad, fine }: Shapes) => [one, across, down, glow, broad, fine]

function quantile(values: Float64Array, part: number): number {
  const sorted = Float64Array.from(values).sort()
  return sorted[Math.min(sorted.length - 1, Math.floor(part * sorted.length))]
}

function sentences(before: ProofFigures, after: ProofFigures): string {
  const parts: string[] = []
  if (after.glowOverNoise !== null && before.glowAdu !== null) {
    const left = Math.abs(after.glowOverNoise)
    if (left < 0.5) parts.push(`Glow removed to ${left.toFixed(1)} of the noise.`)
    else if (Math.abs(after.glowAdu!) < 3 * after.glowErrorAdu!)
      parts.push(`Glow removed, as far as this uneven field can tell (to ${after.glowErrorAdu!.toFixed(0)} ADU).`)
    else
      parts.push(
        after.glowOverNoise > 0
          ? `Glow under-subtracted: ${after.glowAdu!.toFixed(0)} ADU are left at its peak. Is this the right dark?`
          : `Glow over-subtracted: ${(-after.glowAdu!).toFixed(0)} ADU too much are gone at its peak. Is this the right dark?`,
      )
  }
  if (after.vignettingLeft !== null) {
    const left = after.vignettingLeft
    if (Math.abs(left) < 0.1) parts.push('Vignetting corrected.')
    else
      parts.push(
        left > 0
          ? `${(100 * left).toFixed(0)} % of the vignetting is left: the flat does not fit this light, or too little was subtracted from it.`
          : `Vignetting over-corrected by ${(-100 * left).toFixed(0)} %: was the flat's own dark flat subtracted?`,
      )
  } else parts.push('The sky is too dark, or too uneven, in this light to judge the flat by it.')
  if (after.shadowsLeft !== null && Math.abs(after.shadowsLeft) > 0.3)
    parts.push('Dust shadows do not line up with the flat.')
  if (before.hotPixels > 0) parts.push(`${after.hotPixels} of ${before.hotPixels} hot pixels are left.`)
  return parts.join(' ')
}
