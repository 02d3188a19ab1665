import type { Plane } from './pyramid.ts'
import type { Samples } from './samples.ts'

/** Colour of a filter array for viewing; no figure ever comes from here. */

/** Places of a 2 × 2 pattern, in stored order, as 0, 1, 2 for red, green, blue; null for what is no such pattern. */
export function placesOf(cfa: string | null): [number, number, number, number] | null {
  if (!cfa || !/^[RGB]{4}$/.test(cfa) || new Set(cfa).size !== 3) return null
  const [a, b, c, d] = [...cfa].map((letter) => 'RGB'.indexOf(letter))
  return [a, b, c, d]
}

type Places = readonly [number, number, number, number]

/** Room for one pixel of each colour from each 2 × 2 pattern: `extendColours` fills it. */
export function splitColours(image: Plane): [Plane, Plane, Plane] {
  const width = image.width >> 1
  const height = image.height >> 1
  const make = image.data.constructor as new (length: number) => Samples
  const empty = (): Plane => ({ width, height, data: new make(width * height), rows: 0 })
  return [empty(), empty(), empty()]
}

/** Fills the rows of `colours` for which the image has come. */
export function extendColours(image: Plane, places: Places, colours: readonly [Plane, Plane, Plane]): void {
  const { width, height, rows } = colours[0]
  const end = Math.min(height, image.rows >> 1)
  const offsets = [0, 1, image.width, image.width + 1]
  for (const [channel, colour] of colours.entries()) {
    const found = offsets.filter((_, place) => places[place] === channel)
    const [one, other] = [found[0], found.at(-1)!]
    for (let y = rows; y < end; y++)
      for (let x = 0, from = 2 * y * image.width; x < width; x++, from += 2)
        colour.data[y * width + x] = (image.data[from + one] + image.data[from + other]) / 2
    colour.rows = Math.max(colour.rows, end)
  }
}

/**
 * A window of the image in full size, each missing colour the mean of its neighbours of that colour in the 3 × 3 around it.
 * @param out red, green, blue of each pixel of the window, row by row
 */
export function interpolate(
  { data, width, rows }: Plane,
  places: Places,
  window: { x: number; y: number; width: number; height: number },
  out: Float32Array,
): void {
  const sums = [0, 0, 0]
  const found = [0, 0, 0]
  for (let y = window.y, at = 0; y < window.y + window.height; y++)
    for (let x = window.x; x < window.x + window.width; x++) {
      sums.fill(0)
      found.fill(0)
      const own = places[(y & 1) * 2 + (x & 1)]
      for (let v = Math.max(0, y - 1); v <= Math.min(rows - 1, y + 1); v++)
        for (let u = Math.max(0, x - 1); u <= Math.min(width - 1, x + 1); u++) {
          const channel = places[(v & 1) * 2 + (u & 1)]
          if (channel === own && (u !== x || v !== y)) continue
          sums[channel] += data[v * width + u]
          found[channel]++
        }
      for (let channel = 0; channel < 3; channel++)
        out[at++] = found[channel] ? sums[channel] / found[channel] : sums[own]
    }
}
