import { interpolate } from './colour.ts'
import type { Plane } from './pyramid.ts'
import type { Curve } from './stretch.ts'
import { originOf, type Size, type View } from './view.ts'

/** Draws the visible part of an image, and only that: into device pixels, one 32-bit word each (RGBA in memory). */

export interface Sight {
  view: View
  canvas: Size
  image: Size
  curve: Curve
  red: boolean
  /** The first stored row stands at the bottom. */
  bottomUp: boolean
}

/** Which half of a pyramid serves a scale: the largest that is not finer than half a device pixel. */
export const levelFor = (scale: number, levels: number): number =>
  scale >= 1 ? 0 : Math.min(levels - 1, Math.floor(Math.log2(1 / scale) + 1e-9))

/** Steps of the pixels of a canvas's axis through a plane: the two neighbours, and how much the second weighs. */
interface Axis {
  first: Int32Array
  second: Int32Array
  weight: Float32Array
  /** The part of the canvas that the plane covers. */
  from: number
  to: number
}

function axisOf(
  origin: number,
  imageLength: number,
  planeLength: number,
  canvasLength: number,
  scale: number,
  backwards = false,
): Axis {
  const first = new Int32Array(canvasLength)
  const second = new Int32Array(canvasLength)
  const weight = new Float32Array(canvasLength)
  const from = Math.max(0, origin)
  const to = Math.min(canvasLength, Math.round(origin + imageLength * scale))
  const perPixel = planeLength / (imageLength * scale)
  for (let i = from; i < to; i++) {
    const along = (i + 0.5 - origin) * perPixel
    const point = backwards ? planeLength - along : along
    // Enlarged, a pixel is a square of one brightness; shrunken, neighbours are mixed.
    const at = scale >= 1 ? Math.floor(point) : point - 0.5
    const low = Math.min(planeLength - 1, Math.max(0, Math.floor(at)))
    first[i] = low
    second[i] = scale >= 1 ? low : Math.min(planeLength - 1, Math.max(0, Math.floor(at) + 1))
    weight[i] = Math.max(0, at - low)
  }
  return { first, second, weight, from, to }
}

/** One brightness a pixel: grey, or red alone. */
export function drawGrey(planes: readonly Plane[], sight: Sight, out: Uint32Array): void {
  const plane = planes[levelFor(sight.view.scale, planes.length)]
  const paint = shadesOf(sight)
  const shade = painter(sight.curve)
  eachRow(plane, sight, (y, row, x) => {
    const { data, width } = plane
    const [upper, lower, v] = [y.first[row] * width, y.second[row] * width, y.weight[row]]
    const at = row * sight.canvas.width
    for (let i = x.from; i < x.to; i++) {
      const [a, b, u] = [x.first[i], x.second[i], x.weight[i]]
      const above = data[upper + a] + (data[upper + b] - data[upper + a]) * u
      const below = data[lower + a] + (data[lower + b] - data[lower + a]) * u
      out[at + i] = paint[shade(above + (below - above) * v)]
    }
  })
}

/** Three shrunken colours, or with the red lamp their mean in red alone. */
export function drawColours(colours: readonly (readonly Plane[])[], sight: Sight, out: Uint32Array): void {
  // Colours begin at half the image's size.
  const level = Math.max(0, levelFor(sight.view.scale * 2, colours[0].length))
  const [red, green, blue] = colours.map((planes) => planes[level])
  const shade = painter(sight.curve)
  const mix = mixer(sight.red)
  eachRow(red, sight, (y, row, x) => {
    const { width } = red
    const [upper, lower, v] = [y.first[row] * width, y.second[row] * width, y.weight[row]]
    const at = row * sight.canvas.width
    for (let i = x.from; i < x.to; i++) {
      const [a, b, u] = [x.first[i], x.second[i], x.weight[i]]
      const sample = ({ data }: Plane) => {
        const above = data[upper + a] + (data[upper + b] - data[upper + a]) * u
        const below = data[lower + a] + (data[lower + b] - data[lower + a]) * u
        return shade(above + (below - above) * v)
      }
      out[at + i] = mix(sample(red), sample(green), sample(blue))
    }
  })
}

/** Colour in full size or enlarged: the missing colours of the visible pixels are interpolated. */
export function drawFullColour(
  image: Plane,
  places: readonly [number, number, number, number],
  sight: Sight,
  out: Uint32Array,
): void {
  const { left, top } = originOf(sight.view, sight.canvas)
  const { scale } = sight.view
  const x = axisOf(left, sight.image.width, image.width, sight.canvas.width, scale)
  const y = axisOf(top, sight.image.height, image.height, sight.canvas.height, scale, sight.bottomUp)
  if (x.from >= x.to || y.from >= y.to) return
  const [one, other] = [y.first[y.from], y.first[y.to - 1]]
  const window = { x: x.first[x.from], y: Math.min(one, other), width: 0, height: 0 }
  window.width = x.first[x.to - 1] - window.x + 1
  const last = Math.min(image.rows - 1, Math.max(one, other))
  window.height = last - window.y + 1
  if (window.height <= 0) return
  const colours = new Float32Array(3 * window.width * window.height)
  interpolate(image, places, window, colours)
  const shade = painter(sight.curve)
  const mix = mixer(sight.red)
  for (let row = y.from; row < y.to; row++) {
    if (y.first[row] > last) continue
    for (let i = x.from; i < x.to; i++) {
      const at = 3 * ((y.first[row] - window.y) * window.width + x.first[i] - window.x)
      out[row * sight.canvas.width + i] = mix(shade(colours[at]), shade(colours[at + 1]), shade(colours[at + 2]))
    }
  }
}

/** Calls back for every row of the canvas for which the plane's rows are there. */
function eachRow(
  plane: Plane,
  { view, canvas, image, bottomUp }: Sight,
  draw: (y: Axis, row: number, x: Axis) => void,
): void {
  const { left, top } = originOf(view, canvas)
  const x = axisOf(left, image.width, plane.width, canvas.width, view.scale)
  const y = axisOf(top, image.height, plane.height, canvas.height, view.scale, bottomUp)
  for (let row = y.from; row < y.to; row++) if (y.second[row] < plane.rows) draw(y, row, x)
}

const OPAQUE = 0xff000000

/** The words of 256 shades: grey, or with nothing but red in them. */
const shadesOf = ({ red }: Sight): Uint32Array =>
  Uint32Array.from({ length: 256 }, (_, shade) => (OPAQUE | (red ? shade : shade * 0x010101)) >>> 0)

const mixer = (onlyRed: boolean) =>
  onlyRed
    ? (red: number, green: number, blue: number) => (OPAQUE | ((red + green + blue) / 3)) >>> 0
    : (red: number, green: number, blue: number) => (OPAQUE | (blue << 16) | (green << 8) | red) >>> 0

/** `brightnessOf` of one curve, for millions of values. */
function painter({ dark, bright, table }: Curve): (value: number) => number {
  const last = table.length - 1
  const perUnit = last / (bright - dark)
  return (value) => {
    const at = (value - dark) * perUnit
    return at >= last ? table[last] : at > 0 ? table[(at + 0.5) | 0] : table[0]
  }
}
