/** Simulated flats with known truth: vignetting, dust, colour cells and photon noise, from a seeded generator. */

/** Mulberry32: small, seeded, good enough for tests. */
export function seeded(seed: number): () => number {
  let a = seed >>> 0
  return () => {
    a = (a + 0x6d2b79f5) >>> 0
    let t = a
    t = Math.imul(t ^ (t >>> 15), t | 1)
    t ^= t + Math.imul(t ^ (t >>> 7), t | 61)
    return ((t ^ (t >>> 14)) >>> 0) / 2 ** 32
  }
}

/** Gaussian deviates by Box and Muller, two at a time. */
export function gaussian(random: () => number): () => number {
  let spare: number | null = null
  return () => {
    if (spare !== null) {
      const value = spare
      spare = null
      return value
    }
    const r = Math.sqrt(-2 * Math.log(1 - random()))
    const phi = 2 * Math.PI * random()
    spare = r * Math.sin(phi)
    return r * Math.cos(phi)
  }
}

export interface Shadow {
  x: number
  y: number
  diameter: number
  depth: number
}

export interface FlatScene {
  width: number
  height: number
  /** Brightness at the centre, ADU. */
  level: number
  ePerAdu: number
  shadows?: Shadow[]
  /** Difference between left and right edge of the panel's light, as a fraction. */
  tilt?: number
  /** The optics turned against the sensor, degrees. */
  rotationDeg?: number
  /** Frames averaged: noise falls by its root. */
  frames?: number
}

/** Colour cells of one filter on an even panel, as fractions of the brightest. */
const cells = [0.62, 1, 1, 0.71]

/** A calibrated flat, ADU. The sensor's own 0.8 % pattern is the same in every one. */
export function simulateFlat(scene: FlatScene, seed: number): Float32Array {
  const { width, height, level, ePerAdu, shadows = [], tilt = 0, rotationDeg = 0, frames = 1 } = scene
  const noise = gaussian(seeded(seed))
  const pattern = gaussian(seeded(9_041))
  const out = new Float32Array(width * height)
  const turn = (rotationDeg * Math.PI) / 180
  const [cos, sin] = [Math.cos(turn), Math.sin(turn)]
  const [cx, cy] = [width / 2, height / 2]
  for (let y = 0; y < height; y++)
    for (let x = 0; x < width; x++) {
      // Where this pixel lay before the optics turned.
      const u = cos * (x - cx) + sin * (y - cy)
      const v = -sin * (x - cx) + cos * (y - cy)
      const r2 = (u * u + v * v) / (cx * cx + cy * cy)
      let light = level * cells[((y & 1) << 1) | (x & 1)] * (1 - 0.35 * r2)
      light *= 1 + tilt * (x / width - 0.5)
      for (const s of shadows) {
        const edge = s.diameter / 2 - Math.hypot(u + cx - s.x, v + cy - s.y)
        if (edge > -4) light *= 1 - s.depth * Math.min(1, (edge + 4) / 8)
      }
      light *= 1 + 0.008 * pattern()
      out[y * width + x] = light + (Math.sqrt(light / ePerAdu) * noise()) / Math.sqrt(frames)
    }
  return out
}
