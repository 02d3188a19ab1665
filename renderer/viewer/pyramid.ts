import { isSmallInteger, type Samples } from './samples.ts'

/** An image, or one shrunken by half again and again, for drawing. `rows` are there so far. */
export interface Plane {
  width: number
  height: number
  data: Samples
  rows: number
}

/** Shrinking ends when the longer side is this short. */
const SMALLEST = 512

/**
 * An image and its halves, each pixel the mean of 2 × 2 (at an odd edge of 2) of the one before; filled as rows come.
 * Small integers stay small integers (rounded), all else is float32: halves are for looking at, never for figures.
 */
export class Pyramid {
  readonly planes: Plane[]

  constructor(base: Plane) {
    this.planes = [base]
    for (let { width, height } = base; Math.max(width, height) > SMALLEST;) {
      width = Math.ceil(width / 2)
      height = Math.ceil(height / 2)
      this.planes.push({ width, height, data: halfOf(base.data, width * height), rows: 0 })
    }
  }

  /** Carries the rows of the image that have come since into its halves. */
  extend(): void {
    for (let level = 1; level < this.planes.length; level++) halve(this.planes[level - 1], this.planes[level])
  }
}

function halfOf(data: Samples, length: number): Samples {
  if (!isSmallInteger(data)) return new Float32Array(length)
  return new (data.constructor as new (length: number) => Samples)(length)
}

function halve(from: Plane, to: Plane): void {
  const end = from.rows === from.height ? to.height : from.rows >> 1
  const whole = isSmallInteger(to.data)
  for (let y = to.rows; y < end; y++) {
    const upper = 2 * y * from.width
    const lower = Math.min(2 * y + 1, from.height - 1) * from.width
    for (let x = 0; x < to.width; x++) {
      const left = 2 * x
      const right = Math.min(left + 1, from.width - 1)
      const { data } = from
      const sum = data[upper + left] + data[upper + right] + data[lower + left] + data[lower + right]
      to.data[y * to.width + x] = whole ? (sum + 2) >> 2 : sum / 4
    }
  }
  to.rows = Math.max(to.rows, end)
}
