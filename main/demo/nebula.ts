import { Random } from './random.ts'
import { smoothField } from './smooth-field.ts'

/** The brightness of a cloud over the frame, 0 upwards, mostly below 2. */
export interface Nebula {
  /** @param x,y pixels, before any shift or flip */
  at(x: number, y: number): number
}

const CELL_PX = 4
const MARGIN_PX = 64
const OCTAVES = 6
/** Each finer layer is turned by this, so that no grid shows. */
const TURN = 2.1

/**
 * A cloud with filaments, thickest near the middle. It fills the frame at any size: a fixed number of pixels would show
 * one shade of it in a small frame.
 */
export function nebulaOf(name: string, size: { width: number; height: number }, seed: number): Nebula {
  const columns = Math.ceil((size.width + 2 * MARGIN_PX) / CELL_PX) + 2
  const rows = Math.ceil((size.height + 2 * MARGIN_PX) / CELL_PX) + 2
  const grid = new Float32Array(columns * rows)
  const shape = cloud(new Random(seed, 'nebula', name))
  for (let row = 0; row < rows; row++)
    for (let column = 0; column < columns; column++) {
      const u = (column * CELL_PX - MARGIN_PX) / size.width - 0.5
      const v = ((row * CELL_PX - MARGIN_PX) / size.height - 0.5) * (size.height / size.width)
      grid[row * columns + column] = shape(u, v)
    }
  return {
    at(x, y) {
      const u = Math.min(columns - 2, Math.max(0, (x + MARGIN_PX) / CELL_PX))
      const v = Math.min(rows - 2, Math.max(0, (y + MARGIN_PX) / CELL_PX))
      const i = Math.floor(v) * columns + Math.floor(u)
      const across = u - Math.floor(u)
      const upper = grid[i] + across * (grid[i + 1] - grid[i])
      const lower = grid[i + columns] + across * (grid[i + columns + 1] - grid[i + columns])
      return upper + (v - Math.floor(v)) * (lower - upper)
    },
  }
}

/** Brightness at a place in units of the frame's width, 0 in the middle. */
function cloud(random: Random): (u: number, v: number) => number {
  const surface = smoothField(random)
  const layers = (u: number, v: number, from: number) => {
    let sum = 0
    let weight = 0.62
    let scale = 3
    for (let n = 0; n < OCTAVES; n++, weight *= 0.58, scale *= 2) {
      const cos = Math.cos(TURN * (n + from))
      const sin = Math.sin(TURN * (n + from))
      sum += weight * surface.at(scale * (u * cos - v * sin) + 11 * n + from, scale * (u * sin + v * cos) + 7 * n)
    }
    return sum
  }
  return (u, v) => {
    // A place is read from a little way off, as far as the cloud itself says: that draws it out into filaments.
    const bent = layers(u + 0.09 * layers(u, v, 20), v + 0.09 * layers(u, v, 31), 3)
    const near = Math.exp(-(u * u + v * v * 1.6) / 0.09)
    return (0.12 + 0.9 * near) * Math.log1p(Math.exp(1.9 * bent + 0.5))
  }
}
