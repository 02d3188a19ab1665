import {
  backgroundMap,
  medianOf,
  pixelNoise,
  regress,
  smoothed,
  subtractShapes,
  type BackgroundMap,
} from './background.ts'
import type { Plane } from './block-map.ts'

export interface DarkLimits {
  /** Step of the level, in noises of one fresh pixel. */
  pedestalNoises: number
  /** Change of the glow at its peak, or of the level anywhere beyond what the glow's height explains, in noises of one fresh pixel. */
  glowNoises: number
  /** What a change of the glow's height must come to besides, as a fraction: 0.03 is some half a degree. */
  glowFraction: number
  /** Part of the glow at a place that its shape may differ by there. */
  shapeFraction: number
  /** Change of what hot pixels gather, as a fraction: 0.07 is some 0.7 °C. */
  signalFraction: number
  /** Pixels that became hot, as a fraction of all (cosmic rays count here: one frame cannot tell them apart). */
  newHotFraction: number
}

/** Common practice, no source: what would not be seen in a stack of some sixteen lights. */
export const defaultDarkLimits: DarkLimits = {
  pedestalNoises: 0.25,
  glowNoises: 0.25,
  glowFraction: 0.03,
  shapeFraction: 0.05,
  signalFraction: 0.07,
  newHotFraction: 2e-4,
}

export interface DarkFinding {
  what: 'pedestal' | 'dark-signal' | 'glow' | 'glow-shape' | 'hot-new' | 'another-sensor'
  where: { x: number; y: number } | null
  sizePx: number | null
  /** The change: ADU for pedestal, glow and its shape, a fraction for the rest. */
  depth: number
}

export interface DarkCheck {
  holds: boolean
  text: string
  findings: DarkFinding[]
  figures: {
    /** Median of fresh less master, ADU. */
    pedestalAdu: number
    /** What hot pixels gathered against the master: 1 is the same. Null with fewer than 50 hot pixels. */
    signalRatio: number | null
    /** The glow against the master's: 1 is the same. Null where the master has none. */
    glowRatio: number | null
    glowPeakAdu: number | null
    hotKept: number
    hotGone: number
    hotNew: number
    noiseAdu: number
  }
  /** Fresh less master over blocks, each colour cell by its own level: a step of the level does not show, a change of the glow does. */
  map: BackgroundMap
}

/**
 * One fresh dark against the master that it should match.
 *
 * The level may step (a new driver), the dark signal may have another size (temperature), the glow another height or another
 * shape (a light leak looks so), and pixels may have become hot. If most hot pixels are elsewhere it is not the same sensor.
 * @param fresh one raw dark, ADU
 * @param master the dark master, ADU, of equal size
 */
export function checkDark(fresh: Plane, master: Plane, limits: DarkLimits = defaultDarkLimits): DarkCheck {
  if (fresh.width !== master.width || fresh.height !== master.height)
    throw new RangeError(
      `The dark is ${fresh.width} × ${fresh.height} px and the master ${master.width} × ${master.height} px: they must be of one size.`,
    )
  const noise = Math.max(pixelNoise(fresh), 0.3)
  const pedestalAdu = levelStep(fresh, master)
  const map = backgroundMap(master)
  const changed = backgroundMap(fresh, master)
  const glow = glowOf(changed, map, noise)
  const hot = hotPixels(fresh, master, map, pedestalAdu, noise)

  const findings: DarkFinding[] = []
  const add = (what: DarkFinding['what'], depth: number, where: DarkFinding['where'] = null) =>
    findings.push({ what, where, sizePx: null, depth })
  const pixels = fresh.width * fresh.height
  if (Math.abs(pedestalAdu) > limits.pedestalNoises * noise) add('pedestal', pedestalAdu)
  const isGlowOther =
    glow && Math.abs(glow.ratio - 1) > Math.max(limits.glowFraction, (limits.glowNoises * noise) / glow.peakAdu)
  if (isGlowOther) add('glow', (glow.ratio - 1) * glow.peakAdu, glow.where)
  const elsewhere = mostBeside(changed, glow, limits.shapeFraction)
  if (elsewhere.beyondAdu > limits.glowNoises * noise) add('glow-shape', elsewhere.adu, elsewhere.where)
  if (hot.kept + hot.gone >= 50 && hot.gone > hot.kept) add('another-sensor', hot.gone / (hot.kept + hot.gone))
  else if (hot.ratio !== null && Math.abs(hot.ratio - 1) > limits.signalFraction) add('dark-signal', hot.ratio - 1)
  if (hot.fresh / pixels > limits.newHotFraction) add('hot-new', hot.fresh / pixels)
  const holds = findings.length === 0
  return {
    holds,
    text: holds
      ? `Holds: level within ${Math.abs(pedestalAdu).toFixed(1)} ADU of the master.`
      : `Does not hold: ${findings.map(inWords).join('; ')}. Shoot new darks for these settings.`,
    findings,
    figures: {
      pedestalAdu,
      signalRatio: hot.ratio,
      glowRatio: glow?.ratio ?? null,
      glowPeakAdu: glow?.peakAdu ?? null,
      hotKept: hot.kept,
      hotGone: hot.gone,
      hotNew: hot.fresh,
      noiseAdu: noise,
    },
    map: changed,
  }
}

const inWords = (finding: DarkFinding): string =>
  ({
    pedestal: `the level stepped by ${finding.depth.toFixed(1)} ADU`,
    glow: `the glow is ${Math.abs(finding.depth).toFixed(0)} ADU ${finding.depth > 0 ? 'brighter' : 'fainter'} at its peak`,
    'glow-shape': `some place is ${Math.abs(finding.depth).toFixed(0)} ADU ${finding.depth > 0 ? 'brighter: a light leak, or a glow of another shape' : 'darker: the glow has another shape'}`,
    'dark-signal': `hot pixels gathered ${Math.abs(100 * finding.depth).toFixed(0)} % ${finding.depth > 0 ? 'more: warmer, or exposed longer' : 'less: colder, or exposed shorter'}`,
    'hot-new': `${(1e6 * finding.depth).toFixed(0)} in a million pixels are newly hot`,
    'another-sensor': 'most hot pixels are elsewhere: this is not the same sensor',
  })[finding.what]

/** Median of fresh − master over a quarter of a million pixels spread evenly. Integer steps of the fresh frame average out. */
function levelStep(fresh: Plane, master: Plane): number {
  const n = fresh.width * fresh.height
  // A prime-like odd step visits all columns and colour cells alike.
  const step = Math.max(1, Math.floor(n / 250_000)) | 1
  const differences = new Float64Array(Math.ceil(n / step))
  for (let i = 0, k = 0; i < n; i += step) differences[k++] = fresh.data[i] - master.data[i]
  const median = medianOf(Float64Array.from(differences))
  // The mean within two noises of the median is finer than the median, which sticks to the fresh frame's steps.
  const spread = 1.4826 * medianOf(differences.map((d) => Math.abs(d - median)))
  let [sum, near] = [0, 0]
  for (const d of differences)
    if (Math.abs(d - median) <= 2 * Math.max(spread, 1)) {
      sum += d
      near++
    }
  return sum / near
}

/** Height of the fresh glow against the master's, by its shape over blocks. */
function glowOf(changed: BackgroundMap, m: BackgroundMap, noise: number) {
  const sorted = Float64Array.from(m.value).sort()
  const floor = sorted[Math.floor(0.2 * sorted.length)]
  const peakAdu = sorted[Math.floor(0.999 * sorted.length)] - floor
  if (peakAdu < Math.max(0.5 * noise, 1)) return null
  const shape = m.value.map((v) => v - floor)
  const fit = regress(changed.value, [shape.map(() => 1), shape])
  const at = m.value.indexOf(Math.max(...m.value))
  return { ratio: 1 + fit.coefficient[1], peakAdu, where: middleOf(m, at), shape, fit: fit.coefficient }
}

/**
 * The largest change, over three blocks by three, that neither a step of the level nor another height of the glow explains.
 * @param fraction part of the glow at a place that does not count there: where it is bright it is noisy, and hangs on the temperature
 */
function mostBeside(changed: BackgroundMap, glow: ReturnType<typeof glowOf>, fraction: number) {
  const level = changed.value.map(() => 1)
  const left = glow
    ? subtractShapes(changed.value, [level, glow.shape], glow.fit)
    : subtractShapes(changed.value, [level], [medianOf(Float64Array.from(changed.value))])
  const means = smoothed(left, changed.columns, changed.rows, 1)
  let most = { adu: 0, beyondAdu: 0, at: 0 }
  means.forEach((adu, at) => {
    const beyondAdu = Math.abs(adu) - fraction * Math.max(0, glow?.shape[at] ?? 0)
    if (beyondAdu > most.beyondAdu) most = { adu, beyondAdu, at }
  })
  return { ...most, where: middleOf(changed, most.at) }
}

const middleOf = ({ columns, blockPx }: BackgroundMap, block: number) => ({
  x: ((block % columns) + 0.5) * blockPx - 0.5,
  y: (Math.floor(block / columns) + 0.5) * blockPx - 0.5,
})

const meanOf = (values: readonly number[]) => values.reduce((a, b) => a + b, 0) / values.length

/** Hot in the master: more than ten fresh noises above its surroundings. Kept if the fresh frame shows at least half of it. */
function hotPixels(fresh: Plane, master: Plane, background: BackgroundMap, pedestal: number, noise: number) {
  const level = meanOf(background.cellLevel)
  const limit = 10 * noise
  const ratios: number[] = []
  let [kept, gone, newly] = [0, 0, 0]
  const { width, height } = fresh
  const [now, then] = [fresh.data, master.data]
  const { rows, columns, blockPx, value } = background
  for (let y = 0; y < height; y++)
    for (let column = 0; column < columns; column++) {
      const surroundings = level + value[Math.min(rows - 1, Math.floor(y / blockPx)) * columns + column]
      // What is left of a row beside the last block counts with it.
      const end = y * width + (column === columns - 1 ? width : (column + 1) * blockPx)
      for (let i = y * width + column * blockPx; i < end; i++) {
        const inMaster = then[i] - surroundings
        const inFresh = now[i] - pedestal - surroundings
        if (inMaster > limit) {
          if (inFresh > inMaster / 2) kept++
          else gone++
          ratios.push(inFresh / inMaster)
        } else if (inFresh > limit + Math.max(0, inMaster)) newly++
      }
    }
  return { kept, gone, fresh: newly, ratio: ratios.length >= 50 ? medianOf(Float64Array.from(ratios)) : null }
}
