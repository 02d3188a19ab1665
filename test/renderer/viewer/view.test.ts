import { expect, test } from 'vitest'
import {
  fit,
  imagePoint,
  nextScale,
  originOf,
  pan,
  pixelAt,
  scaleWord,
  settle,
  zoomTo,
} from '../../../renderer/viewer/view.ts'

const image = { width: 4144, height: 2822 }
const canvas = { width: 1000, height: 600 }

test('the whole of a large image is as large as it fits, a small one is enlarged by a whole number', () => {
  expect(fit(image, canvas)).toEqual({ x: 2072, y: 1411, scale: 600 / 2822 })
  expect(fit({ width: 300, height: 250 }, canvas).scale).toBe(2)
  expect(fit({ width: 1, height: 1 }, canvas).scale).toBe(64)
})

test('the point under the pointer stays there while it is zoomed, to the half pixel that whole device pixels leave', () => {
  const at = { x: 130, y: 470 }
  let view = fit(image, canvas)
  const before = imagePoint(view, canvas, at)
  view = zoomTo(view, image, canvas, at, 4)
  const after = imagePoint(view, canvas, at)
  expect(Math.abs(after.x - before.x)).toBeLessThan(2.5)
  expect(Math.abs(after.y - before.y)).toBeLessThan(2.5)
  expect(view.scale).toBe(4)
})

test('enlarged pixels begin on whole device pixels', () => {
  for (const x of [100.3, 2071.77]) {
    const { left, top } = originOf({ x, y: 500.123, scale: 3 }, canvas)
    expect(Number.isInteger(left) && Number.isInteger(top)).toBe(true)
  }
})

test('no more is left empty than has to be', () => {
  expect(settle({ x: -50, y: 5000, scale: 1 }, image, canvas)).toEqual({ x: 500, y: 2822 - 300, scale: 1 })
  // Narrower than the canvas: it stands in the middle.
  expect(settle({ x: 0, y: 0, scale: 0.22 }, image, canvas).x).toBe(2072)
  expect(settle({ x: 0, y: 0, scale: 0.0001 }, image, canvas).scale).toBe(fit(image, canvas).scale)
})

test('it moves by device pixels', () => {
  expect(pan({ x: 2000, y: 1000, scale: 2 }, image, canvas, { x: 80, y: -80 })).toEqual({ x: 2040, y: 960, scale: 2 })
})

test('the pixel under the pointer is counted from the first stored one, and outside there is none', () => {
  const view = { x: 2, y: 1, scale: 10 }
  const small = { width: 4, height: 2 }
  // The image lies from 480 to 520 across and from 290 to 310 down.
  expect(pixelAt(view, small, canvas, { x: 480, y: 290 })).toEqual({ x: 0, y: 0 })
  expect(pixelAt(view, small, canvas, { x: 519.9, y: 309.9 })).toEqual({ x: 3, y: 1 })
  expect(pixelAt(view, small, canvas, { x: 520, y: 300 })).toBeNull()
  expect(pixelAt(view, small, canvas, { x: 479.9, y: 300 })).toBeNull()
})

test('steps of zoom pass through the whole image and 1:1, and end at both ends', () => {
  const whole = 0.21
  let scale = nextScale(1 / 8, 1, whole)
  expect(scale).toBe(1 / 6)
  scale = nextScale(scale, 1, whole)
  expect(scale).toBe(whole)
  for (const wanted of [1 / 4, 1 / 3, 1 / 2, 1, 2, 3, 4, 6]) expect((scale = nextScale(scale, 1, whole))).toBe(wanted)
  expect(nextScale(1, -1, whole)).toBe(1 / 2)
  expect(nextScale(64, 1, whole)).toBe(64)
})

test('a scale is said as a ratio', () => {
  expect([1, 4, 0.5, 1 / 7.5, 1.5].map(scaleWord)).toEqual(['1:1', '4:1', '1:2', '1:7.5', '1.5:1'])
})
