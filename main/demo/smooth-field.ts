import type { Random } from './random.ts'

/** A smooth random surface without a seam: values about 0, standard deviation about 1, over a plane in units of its grid. */
export interface SmoothField {
  /** @param x,y in grid cells; the surface repeats after its size */
  at(x: number, y: number): number
}

/** @param size cells along each side before the surface repeats */
export function smoothField(random: Random, size = 64): SmoothField {
  const grid = Float32Array.from({ length: size * size }, () => random.gaussian() * 1.35)
  const ease = (t: number) => t * t * (3 - 2 * t)
  return {
    at(x, y) {
      const left = Math.floor(x)
      const top = Math.floor(y)
      const across = ease(x - left)
      const down = ease(y - top)
      const x0 = modulo(left, size)
      const x1 = x0 + 1 === size ? 0 : x0 + 1
      const y0 = modulo(top, size) * size
      const y1 = y0 + size === grid.length ? 0 : y0 + size
      const upper = grid[y0 + x0] + across * (grid[y0 + x1] - grid[y0 + x0])
      const lower = grid[y1 + x0] + across * (grid[y1 + x1] - grid[y1 + x0])
      return upper + down * (lower - upper)
    },
  }
}

const modulo = (n: number, size: number) => ((n % size) + size) % size
