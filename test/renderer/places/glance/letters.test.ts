import { expect, test } from 'vitest'
import {
  fittedSize,
  likelyDiagonalIn,
  linesOf,
  nextDiagonalIn,
  pxPerCm,
} from '../../../../renderer/places/glance/letters.ts'

/** A typeface in which every letter is half as wide as it is large. */
const measure = (words: string) => words.length / 2
const text = (words: string, scale = 1, indent = 0) => ({ words, scale, indent })

test('a screen of 24 inches with 1920 × 1080 px has 36.1 px a centimetre', () => {
  // By hand: √(1920² + 1080²) = 2202.9 px over 24 × 2.54 = 60.96 cm.
  expect(pxPerCm({ width: 1920, height: 1080 }, 24)).toBeCloseTo(36.14, 2)
})

test('a screen’s size is guessed by its pixels, and changed in steps that come back where they began', () => {
  expect(
    [
      { width: 390, height: 844 },
      { width: 1280, height: 800 },
      { width: 1920, height: 1080 },
    ].map(likelyDiagonalIn),
  ).toEqual([6, 14, 24])
  expect(nextDiagonalIn(24, 1)).toBe(25)
  expect(nextDiagonalIn(10, 1)).toBe(11)
  expect(nextDiagonalIn(11, -1)).toBe(10)
  expect(nextDiagonalIn(10, -1)).toBe(9.5)
  expect(nextDiagonalIn(3, -1)).toBe(3)
})

test('lines break between words only; a word that is too wide does not fit at all', () => {
  expect(linesOf(text('Flat due'), 100, 400, measure)).toBe(1)
  expect(linesOf(text('Flat due'), 100, 399, measure)).toBe(2)
  expect(linesOf(text('Flat due', 1, 1), 100, 499, measure)).toBe(2)
  expect(linesOf(text('unconfirmed'), 100, 500, measure)).toBe(Infinity)
  expect(linesOf(text('01:49 · light 37', 0.5), 20, 80, measure)).toBe(1)
})

test('letters are as large as wanted where there is room, else as large as fits', () => {
  const one = [[text('Flat due', 1, 1)]]
  expect(fittedSize(one, { width: 2000, height: 1000 }, 270, measure)).toBe(270)
  // Two lines of 1.1 and a gap of 0.12 in 500 px: 500 / 2.32 = 215.5; the longest word with its sign needs 3 letters' width.
  const two = [[text('Flat due', 1, 1), text('Dark due', 1, 1)]]
  const size = fittedSize(two, { width: 2000, height: 500 }, 270, measure)
  expect(size).toBeGreaterThan(214)
  expect(size).toBeLessThanOrEqual(215.6)
})

test('rigs share the height: twice as many, half as large', () => {
  const rig = [text('Flat due', 1, 1), text('light 37', 0.26)]
  const room = { width: 4000, height: 600 }
  const alone = fittedSize([rig], room, 1000, measure)
  expect(fittedSize([rig, rig], room, 1000, measure)).toBeCloseTo(alone / 2, -1)
})
