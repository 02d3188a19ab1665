import { expect, test } from 'vitest'
import { brightened, brightnessOf, linear } from '../../../renderer/viewer/stretch.ts'

const light = { min: 480, max: 65_535, median: 1200, noise: 25, bright: 9000 }

test('the median is shown at the brightness asked for, black four times the noise below it, white at the brightest 0.1 %', () => {
  for (const brightness of [0.05, 0.2, 0.5]) {
    const curve = brightened(light, brightness)
    expect(curve.dark).toBe(1100)
    expect(curve.bright).toBe(9000)
    expect(brightnessOf(curve, 1200) / 255).toBeCloseTo(brightness, 1.7)
    expect(brightnessOf(curve, 1100)).toBe(0)
    expect(brightnessOf(curve, 9000)).toBe(255)
  }
})

test('a median that is bright already is shown darker where that is asked for', () => {
  const flat = { min: 20_000, max: 40_000, median: 35_000, noise: 5000, bright: 40_000 }
  for (const brightness of [0.1, 0.3, 0.6])
    expect(brightnessOf(brightened(flat, brightness), 35_000) / 255).toBeCloseTo(brightness, 1.7)
})

test('brighter is brighter: no curve ever turns back, and one unit of the sky’s noise is seen', () => {
  const curve = brightened(light, 0.2)
  for (let value = 1000, before = 0; value < 10_000; value += 3) {
    const now = brightnessOf(curve, value)
    expect(now).toBeGreaterThanOrEqual(before)
    before = now
  }
  expect(brightnessOf(curve, 1225) - brightnessOf(curve, 1200)).toBeGreaterThan(3)
})

test('an image of one level, of no noise, or of nothing at all still has a curve', () => {
  for (const level of [0, 1000, 1e-7, -5]) {
    const curve = brightened({ min: level, max: level, median: level, noise: 0, bright: level }, 0.2)
    expect(curve.bright).toBeGreaterThan(curve.dark)
    expect(brightnessOf(curve, level)).toBeGreaterThanOrEqual(0)
  }
})

test('as it is, brightness is in proportion to the value, and what is no number is dark', () => {
  const curve = linear(0, 65_535)
  expect([0, 16_384, 32_768, 65_535, 70_000, -1, NaN].map((value) => brightnessOf(curve, value))).toEqual([
    0, 64, 128, 255, 255, 0, 0,
  ])
})
