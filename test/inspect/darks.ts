import { gaussian, seeded } from './flats.ts'

export interface DarkScene {
  width: number
  height: number
  /** Level without dark signal, ADU. */
  pedestal: number
  /** Peak of the glow at the right edge, ADU. */
  glow: number
  /** Dark signal of the hot pixels against the reference: 2^(dT/Td) · t/t0. */
  signal?: number
  /** Which sensor: hot pixels lie elsewhere on another one. */
  sensor?: number
  noise: number
  /** Part of the pixels that became hot since. */
  newHot?: number
  frames?: number
}

/** The shape of the glow, 0 to 1, from the middle of the right edge. */
export const glowShape = (x: number, y: number, width: number, height: number) =>
  Math.exp(-(((width - x) / (0.12 * width)) ** 2 + ((height / 2 - y) / (0.18 * height)) ** 2) / 2)

/** A dark, ADU: pedestal, glow, hot pixels (one in 2 000, exponentially distributed) and Gaussian noise. */
export function simulateDark(scene: DarkScene, seed: number): Float32Array {
  const { width, height, pedestal, glow, signal = 1, sensor = 1, noise, newHot = 0, frames = 1 } = scene
  const place = seeded(sensor * 7919)
  const later = seeded(4242)
  const deviate = gaussian(seeded(seed))
  const out = new Float32Array(width * height)
  for (let y = 0, i = 0; y < height; y++)
    for (let x = 0; x < width; x++, i++) {
      let adu = pedestal + glow * glowShape(x, y, width, height)
      const lot = place()
      if (lot < 5e-4) adu += signal * (-3_000 * Math.log(lot / 5e-4 + 1e-9))
      if (later() < newHot) adu += 2_000
      out[i] = adu + (noise * deviate()) / Math.sqrt(frames)
    }
  return out
}
