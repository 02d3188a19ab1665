import { coarsened, ratioBlocks, type BlockMap, type Plane } from './block-map.ts'
import { findSpots } from './spots.ts'
import { fitSurface, spanOf, subtractSurface } from './surface.ts'

/** What a check found, where (0-based pixels), how large, and how deep as a fraction. */
export interface Finding {
  what: 'shadow-new' | 'shadow-gone' | 'vignetting' | 'tilt' | 'balance'
  where: { x: number; y: number } | null
  sizePx: number | null
  depth: number
}

export interface FlatLimits {
  /** No local change may be larger than this. */
  local: number
  /** This part of all blocks must lie within `most`. */
  most: number
  mostFraction: number
}

/** One per cent anywhere, half a per cent for 95 % of the frame: common practice, no source. */
export const defaultFlatLimits: FlatLimits = { local: 0.01, most: 0.005, mostFraction: 0.95 }

export interface FlatCheck {
  holds: boolean
  /** One sentence for a person. */
  text: string
  findings: Finding[]
  figures: {
    /** Mean of the fresh flat over the master's, per colour cell in stored order. */
    cellRatio: [number, number, number, number]
    /** Largest difference that the fitted plane makes between corners: a panel put back is never quite level. */
    tilt: number
    /** Largest difference that remains between centre and corners once the plane is out. */
    vignettingShift: number
    /** Part of all blocks within the limit. */
    withinFraction: number
    pixelNoise: number
    blockNoise: number
    blockPx: number
  }
  /** The change of each block after the plane, for a picture. */
  map: BlockMap
}

/**
 * One fresh flat against the master that it should match: does the master still hold?
 *
 * The ratio of the two is averaged over blocks, a plane is fitted, reported and taken out (a panel put back is never
 * level), and what is left is judged: broad changes as vignetting, local ones as dust shadows that came or went. Brightness
 * and colour of the panel drop out. The ratio sees only changes, so the sensor's own pattern plays no part.
 * @param fresh one flat less its dark flat, ADU
 * @param master the flat master, ADU, of equal size
 * @throws RangeError for unequal sizes, or frames without light
 */
export function checkFlat(fresh: Plane, master: Plane, limits: FlatLimits = defaultFlatLimits): FlatCheck {
  const map = ratioBlocks(fresh, master)
  const plane = fitSurface(map, 1)
  const level = subtractSurface(map, plane)
  const broad = fitSurface(level, 4)
  const spots = findSpots(subtractSurface(level, broad), 0.6 * limits.local)
  const tilt = spanOf(plane)
  const vignettingShift = spanOf(broad)
  const calm = coarsened(level, limits.most / 5)
  const withinFraction = partWithin(calm, limits.most)

  const findings: Finding[] = spots.map((spot) => ({
    what: spot.change < 0 ? 'shadow-new' : 'shadow-gone',
    where: { x: spot.x, y: spot.y },
    sizePx: spot.sizePx,
    depth: Math.abs(spot.change),
  }))
  if (vignettingShift > limits.most)
    findings.push({ what: 'vignetting', where: null, sizePx: null, depth: vignettingShift })
  if (tilt > limits.local) findings.push({ what: 'tilt', where: null, sizePx: null, depth: tilt })
  const balance = Math.max(...map.cellRatio) / Math.min(...map.cellRatio) - 1
  if (balance > 0.05) findings.push({ what: 'balance', where: null, sizePx: null, depth: balance })

  const worst = spots.reduce((most, s) => Math.max(most, Math.abs(s.change)), 0)
  const localOk = worst <= limits.local && vignettingShift <= limits.local
  const holds = localOk && withinFraction >= limits.mostFraction
  return {
    holds,
    text: sentence(holds, findings, withinFraction, limits),
    findings,
    figures: {
      cellRatio: map.cellRatio,
      tilt,
      vignettingShift,
      withinFraction,
      pixelNoise: map.pixelNoise,
      blockNoise: calm.blockNoise,
      blockPx: calm.blockPx,
    },
    map: level,
  }
}

const percent = (fraction: number) => `${(100 * fraction).toFixed(1)} %`

function sentence(holds: boolean, findings: Finding[], within: number, limits: FlatLimits): string {
  if (holds) return `Holds: ${percent(within)} of the frame is within ${percent(limits.most)} of the master.`
  const shadows = findings.filter((f) => f.what === 'shadow-new' || f.what === 'shadow-gone')
  const parts: string[] = []
  if (shadows.length) {
    const deepest = shadows.reduce((a, b) => (b.depth > a.depth ? b : a))
    const { x, y } = deepest.where!
    parts.push(
      `${shadows.length} dust ${shadows.length === 1 ? 'shadow' : 'shadows'} changed, the deepest by ${percent(deepest.depth)} at ${Math.round(x)}, ${Math.round(y)}`,
    )
  }
  const vignetting = findings.find((f) => f.what === 'vignetting')
  if (vignetting) parts.push(`vignetting shifted by ${percent(vignetting.depth)}`)
  if (!parts.length) parts.push(`only ${percent(within)} of the frame is within ${percent(limits.most)}`)
  return `Does not hold: ${parts.join('; ')}. Shoot new flats before the rig is touched.`
}

function partWithin(map: BlockMap, limit: number): number {
  let [inside, all] = [0, 0]
  for (const value of map.deviation) {
    if (!Number.isFinite(value)) continue
    all++
    if (Math.abs(value) <= limit) inside++
  }
  return all ? inside / all : 0
}
