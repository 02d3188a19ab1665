import { pixelNoise, regress, smoothed, subtractShapes, type BackgroundMap, type Channel } from './background.ts'
import type { Plane } from './block-map.ts'

/**
 * Mottle of each colour alone, fitted by itself: the shapes weigh differently in each.
 * @param maps of the frame's colours
 * @param all the shapes that explain a background, per block
 */
export function mottleByChannel(
  frame: Plane,
  letters: string,
  maps: Record<Channel, BackgroundMap>,
  all: Float64Array[],
): Record<Channel, number> {
  const of = (channel: Channel) => {
    const map = maps[channel]
    return mottle(map, all, regress(map.value, all).coefficient, pixelNoise(frame, letters.indexOf(channel)))
  }
  return { R: of('R'), G: of('G'), B: of('B') }
}

/**
 * Root mean square of the background between 50 and 300 px once all shapes are out, less what noise alone would make. The band
 * has soft edges: of a wave of 160 px it holds 65 % of the amplitude.
 * @param all the shapes that explain a background, per block, each with its `coefficient`
 * @param noise of one pixel of the frame that the map was made of
 */
export function mottle(map: BackgroundMap, all: Float64Array[], coefficient: number[], noise: number): number {
  const rest = subtractShapes(map.value, all, coefficient)
  const fine = smoothed(rest, map.columns, map.rows, 0.5)
  const coarse = smoothed(rest, map.columns, map.rows, 4)
  const band = fine.map((v, i) => (v - coarse[i]) ** 2).sort()
  // The middle 90 %: a nebula or a bright star is not mottle.
  const kept = band.subarray(0, Math.floor(band.length * 0.9))
  // The smallest 90 % of a Gaussian's squares have 0.623 of the mean of all.
  const measured = kept.reduce((a, b) => a + b, 0) / kept.length / 0.623
  // The median of n pixels scatters by 1.2533/√n of a pixel's noise; the mean of 3 × 3 blocks less that of 9 × 9 by √(1/9 − 1/81) of
  // a block's.
  const expected = ((1.2533 * noise) ** 2 / map.sampled) * (1 / 9 - 1 / 81)
  return Math.sqrt(Math.max(0, measured - expected))
}
