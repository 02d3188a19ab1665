import { expect, test } from 'vitest'
import { measureLevels } from '../../../renderer/viewer/levels.ts'

test('levels of 16-bit integers are exact', () => {
  const samples = Uint16Array.from([0, 10, 10, 12, 14, 16, 65_535, 999])
  const levels = measureLevels(samples, 7, 65_535)
  // Sorted: 0 10 10 12 14 16 65535; distances from 12: 0 2 2 2 4 12 65523.
  expect(levels).toMatchObject({ min: 0, max: 65_535, median: 12, pixels: 7, undefined: 0 })
  expect(levels.noise).toBeCloseTo(1.4826 * 2, 9)
  expect(levels).toMatchObject({ clippedLow: 1, clippedHigh: 1, top: 65_535, from: 0, to: 65_535 })
  expect(levels.counts[0]).toBe(6)
  expect(levels.counts.at(-1)).toBe(1)
})

test('14-bit data shifted up are clipped at the highest level that they can have', () => {
  const levels = measureLevels(Uint16Array.from([400, 404, 412, 65_532, 65_532]), 5, 65_535)
  expect(levels).toMatchObject({ top: 65_532, clippedHigh: 2 })
})

test('signed integers and bytes have their own range', () => {
  expect(measureLevels(Int16Array.from([-300, -300, 5]), 3, 65_535)).toMatchObject({
    min: -300,
    max: 5,
    median: -300,
    from: -300,
    clippedLow: 2,
  })
  expect(measureLevels(Uint8Array.from([1, 2, 3]), 3, 65_535)).toMatchObject({ min: 1, max: 3, median: 2 })
})

test('of floats, what is no number is counted apart, and levels agree with those of integers', () => {
  const values = Array.from({ length: 4001 }, (_, i) => 1000 + ((i * 37) % 101))
  const floats = measureLevels(Float32Array.from([...values, NaN, Infinity]), 4003, 65_535)
  const integers = measureLevels(Uint16Array.from(values), 4001, 65_535)
  expect(floats.undefined).toBe(2)
  expect({ ...floats, undefined: 0 }).toEqual(integers)
})

test('an image without any number has levels all the same', () => {
  expect(measureLevels(Float32Array.from([NaN, NaN]), 2, 1)).toMatchObject({ pixels: 0, undefined: 2, median: 0 })
})
