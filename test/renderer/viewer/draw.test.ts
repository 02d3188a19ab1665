import { expect, test } from 'vitest'
import { drawColours, drawFullColour, drawGrey, levelFor, type Sight } from '../../../renderer/viewer/draw.ts'
import { extendColours, interpolate, placesOf, splitColours } from '../../../renderer/viewer/colour.ts'
import { Pyramid, type Plane } from '../../../renderer/viewer/pyramid.ts'
import { linear } from '../../../renderer/viewer/stretch.ts'
import { settle } from '../../../renderer/viewer/view.ts'

const plane = (width: number, height: number, value: (x: number, y: number) => number): Plane => ({
  width,
  height,
  data: Uint16Array.from({ length: width * height }, (_, i) => value(i % width, Math.floor(i / width))),
  rows: height,
})

function sightOf(image: Plane, canvas: { width: number; height: number }, scale: number, red = false): Sight {
  const view = settle({ x: image.width / 2, y: image.height / 2, scale }, image, canvas)
  return { view, canvas, image, red, curve: linear(0, 255), bottomUp: false }
}

/** Red, green, blue and opacity of one pixel of what was drawn. */
function shown(out: Uint32Array, at: number): number[] {
  return [...new Uint8Array(out.buffer, 4 * at, 4)]
}

test('halves are means of 2 × 2, of what there is at an odd edge, and follow as rows come', () => {
  const image = plane(1025, 3, (x, y) => x + 1000 * y)
  image.rows = 2
  const pyramid = new Pyramid(image)
  pyramid.extend()
  const [, half] = pyramid.planes
  expect([half.width, half.height, half.rows]).toEqual([513, 2, 1])
  expect(half.data[0]).toBe(501)
  image.rows = 3
  pyramid.extend()
  expect(half.rows).toBe(2)
  expect(half.data[513 + 512]).toBe(1024 + 2000)
  expect(pyramid.planes[2].data[0]).toBe(Math.round((501 + 503 + 2001 + 2003) / 4))
})

test('1:1 shows every pixel as it is; what lies outside stays clear', () => {
  const image = plane(4, 3, (x, y) => 10 * x + 50 * y)
  const out = new Uint32Array(6 * 5)
  drawGrey([image], sightOf(image, { width: 6, height: 5 }, 1), out)
  for (let y = 0; y < 3; y++)
    for (let x = 0; x < 4; x++) {
      const value = 10 * x + 50 * y
      expect(shown(out, (y + 1) * 6 + x + 1)).toEqual([value, value, value, 255])
    }
  expect(shown(out, 0)).toEqual([0, 0, 0, 0])
})

test('enlarged, a pixel is a square with crisp edges', () => {
  const image = plane(2, 2, (x, y) => 100 * x + 50 * y)
  const out = new Uint32Array(64)
  drawGrey([image], sightOf(image, { width: 8, height: 8 }, 4), out)
  const reds = Array.from({ length: 64 }, (_, i) => shown(out, i)[0])
  for (let y = 0; y < 8; y++)
    for (let x = 0; x < 8; x++) expect(reds[y * 8 + x]).toBe((x < 4 ? 0 : 100) + (y < 4 ? 0 : 50))
})

test('shrunken, no pixel of an even picture is lost or made up', () => {
  const image = plane(2000, 1000, () => 77)
  const pyramid = new Pyramid(image)
  pyramid.extend()
  for (const scale of [0.9, 0.37, 0.1]) {
    const sight = sightOf(image, { width: 300, height: 100 }, scale)
    const out = new Uint32Array(300 * 100)
    drawGrey(pyramid.planes, sight, out)
    expect(shown(out, 50 * 300 + 150)).toEqual([77, 77, 77, 255])
  }
})

test('rows that have not come yet stay clear', () => {
  const image = plane(4, 4, () => 99)
  image.rows = 2
  const out = new Uint32Array(16)
  drawGrey([image], sightOf(image, { width: 4, height: 4 }, 1), out)
  expect(shown(out, 4)).toEqual([99, 99, 99, 255])
  expect(shown(out, 8)).toEqual([0, 0, 0, 0])
})

const rowsOf = (out: Uint32Array, width: number) =>
  Array.from({ length: out.length / width }, (_, row) => [...out.subarray(row * width, (row + 1) * width)])

test.each([0.5, 1, 3])(
  'with its first row at the bottom a picture is its own mirror image, at %d:1, in grey and colour',
  (scale) => {
    const image = plane(8, 6, (x, y) => 10 * x + 20 * y)
    const places = placesOf('GBRG')!
    const canvas = { width: 24, height: 18 }
    const sight = sightOf(image, canvas, scale)
    const colours = splitColours(image)
    extendColours(image, places, colours)
    const ways = [
      (sight: Sight, out: Uint32Array) => drawGrey([image, ...new Pyramid(image).planes.slice(1)], sight, out),
      (sight: Sight, out: Uint32Array) => scale >= 1 && drawFullColour(image, places, sight, out),
      (sight: Sight, out: Uint32Array) =>
        drawColours(
          colours.map((one) => [one]),
          sight,
          out,
        ),
    ]
    for (const draw of ways) {
      const [usual, mirrored] = [new Uint32Array(24 * 18), new Uint32Array(24 * 18)]
      draw(sight, usual)
      draw({ ...sight, bottomUp: true }, mirrored)
      expect(rowsOf(mirrored, 24)).toEqual(rowsOf(usual, 24).reverse())
    }
  },
)

test('while rows come, a picture with its first row at the bottom grows upwards', () => {
  const image = plane(4, 4, () => 99)
  image.rows = 2
  const out = new Uint32Array(16)
  drawGrey([image], { ...sightOf(image, { width: 4, height: 4 }, 1), bottomUp: true }, out)
  expect([0, 4, 8, 12].map((at) => shown(out, at)[0])).toEqual([0, 0, 99, 99])
  const colour = new Uint32Array(16)
  drawFullColour(image, placesOf('RGGB')!, { ...sightOf(image, { width: 4, height: 4 }, 1), bottomUp: true }, colour)
  expect([0, 4, 8, 12].map((at) => shown(colour, at)[0])).toEqual([0, 0, 99, 99])
})

test('the half that is drawn is never coarser than the screen', () => {
  expect([1, 0.51, 0.5, 0.26, 0.25, 0.01, 4].map((scale) => levelFor(scale, 4))).toEqual([0, 0, 1, 1, 2, 3, 0])
})

const cell = { R: 40, G: 120, B: 200 }
const mosaic = (cfa: 'RGGB' | 'GRBG' | 'BGGR' | 'GBRG') =>
  plane(8, 6, (x, y) => cell[cfa[(y & 1) * 2 + (x & 1)] as 'R' | 'G' | 'B'])

test.each(['RGGB', 'GRBG', 'BGGR', 'GBRG'] as const)('an even field under %s is one colour, in every size', (cfa) => {
  const image = mosaic(cfa)
  const places = placesOf(cfa)!
  const rgb = new Float32Array(3 * 48)
  interpolate(image, places, { x: 0, y: 0, width: 8, height: 6 }, rgb)
  for (let i = 0; i < 48; i++) expect([...rgb.subarray(3 * i, 3 * i + 3)]).toEqual([40, 120, 200])

  const colours = splitColours(image)
  extendColours(image, places, colours)
  expect(colours.map(({ data }) => new Set(data))).toEqual([new Set([40]), new Set([120]), new Set([200])])

  const out = new Uint32Array(16 * 12)
  drawFullColour(image, places, sightOf(image, { width: 16, height: 12 }, 2), out)
  expect(shown(out, 0)).toEqual([40, 120, 200, 255])
  drawColours(
    colours.map((one) => [one]),
    sightOf(image, { width: 4, height: 3 }, 0.5),
    out,
  )
  expect(shown(out, 5)).toEqual([40, 120, 200, 255])
})

test('a missing colour is the mean of its neighbours', () => {
  const image = plane(3, 3, (x, y) => 10 * (3 * y + x))
  const rgb = new Float32Array(3)
  // RGGB: the middle of 3 × 3 is blue; reds stand in the corners (0, 20, 60, 80), greens at the sides (10, 30, 50, 70).
  interpolate(image, placesOf('RGGB')!, { x: 1, y: 1, width: 1, height: 1 }, rgb)
  expect([...rgb]).toEqual([40, 40, 40])
  // A red pixel at the edge has one green below and one beside it, and one blue across.
  interpolate(image, placesOf('RGGB')!, { x: 0, y: 0, width: 1, height: 1 }, rgb)
  expect([...rgb]).toEqual([0, 20, 40])
})

test('patterns that are none of red, green and blue are not turned into colour', () => {
  expect([null, '', 'CMYG', 'RGG', 'RRRR', 'RGGB'].map((cfa) => placesOf(cfa) !== null)).toEqual([
    false,
    false,
    false,
    false,
    false,
    true,
  ])
})

test('with the red lamp nothing but red is in any pixel, grey or colour', () => {
  const image = mosaic('RGGB')
  const places = placesOf('RGGB')!
  const canvas = { width: 16, height: 12 }
  const grey = new Uint32Array(192)
  const colour = new Uint32Array(192)
  const small = new Uint32Array(192)
  drawGrey([image], sightOf(image, canvas, 2, true), grey)
  drawFullColour(image, places, sightOf(image, canvas, 2, true), colour)
  const colours = splitColours(image)
  extendColours(image, places, colours)
  drawColours(
    colours.map((one) => [one]),
    sightOf(image, canvas, 0.5, true),
    small,
  )
  for (const out of [grey, colour, small]) {
    expect(out.some((word) => (word & 0xff) > 0)).toBe(true)
    expect(out.every((word) => (word & 0x00ffff00) === 0)).toBe(true)
  }
  expect(shown(colour, 0)).toEqual([120, 0, 0, 255])
})
