import { describe, expect, it } from 'vitest'
import { combineColumn } from '../../../main/integrate/column.ts'
import { createCombiner16, createCombiner64 } from '../../../main/integrate/kernels/combiner.ts'
import type { Method } from '../../../main/integrate/method.ts'
import { integerColumn, normal, random, STYLES } from '../columns.ts'

const methods = (n: number): Method[] => [
  { name: 'mean' },
  { name: 'median' },
  { name: 'sigmaClip', low: 3, high: 3, rounds: 5 },
  { name: 'sigmaClip', low: 1.5, high: 2, rounds: 5 },
  { name: 'sigmaClip', low: 1, high: 1, rounds: 1 },
  { name: 'madClip', low: 5, high: 5, rounds: 5, leastSigma: 1 },
  { name: 'madClip', low: 2, high: 3, rounds: 3, leastSigma: 0 },
  ...(n > 3 ? [{ name: 'minMax', low: 1, high: 2 } as const] : []),
]
const counts = [1, 2, 3, 4, 5, 7, 8, 10, 13, 16, 20, 27, 36, 54, 64, 72, 101, 200, 300]

/** Every style of column, `each` times, as planes of native words. */
function fill(n: number, each: number, seed: number): number[][] {
  const next = random(seed)
  return STYLES.flatMap((style) => Array.from({ length: each }, () => integerColumn(style, n, next)))
}

describe('the 16-bit kernel', () => {
  it.each(counts)('equals the specification to the last bit for %i frames, ties and saturation included', (n) => {
    const columns = fill(n, n > 64 ? 24 : 100, 7 + n)
    for (const zero of [32768, 0])
      for (const method of methods(n)) {
        const combiner = createCombiner16(n, columns.length, zero, method)
        for (let k = 0; k < n; k++) combiner.plane(k).set(columns.map((c) => c[k] - 32768))
        const leftOut = combiner.combine(columns.length)
        const wanted = columns.map((c) =>
          combineColumn(
            c.map((x) => x - 32768 + zero),
            method,
          ),
        )
        expect(Array.from(combiner.out)).toEqual(wanted.map((w) => Math.fround(w.value)))
        expect(leftOut).toBe(wanted.reduce((sum, w) => sum + n - w.kept, 0))
      }
  })

  it('swaps big-endian words as a file holds them', () => {
    const combiner = createCombiner16(1, 40, 0, { name: 'mean' })
    const bytes = combiner.bytes(0)
    for (let i = 0; i < 40; i++) bytes.set([(i * 257) >> 8, (i * 257) & 255], i * 2)
    combiner.swap(0, 40)
    expect(Array.from(combiner.plane(0))).toEqual(Array.from({ length: 40 }, (_, i) => i * 257))
  })

  it('leaves the pixels beyond the strip out of its count', () => {
    const combiner = createCombiner16(20, 64, 0, { name: 'sigmaClip', low: 3, high: 3, rounds: 5 })
    for (let k = 0; k < 20; k++) combiner.plane(k).fill(k === 3 ? 9000 : 100 + (k % 3))
    expect(combiner.combine(5)).toBe(5)
  })
})

describe('the float64 kernel', () => {
  it.each(counts)('agrees with the specification for %i frames of floats, NaN and infinities included', (n) => {
    const next = random(99 + n)
    const columns = Array.from({ length: 203 }, (_, i) => {
      const level = next() * 60000
      return Array.from({ length: n }, () => {
        if (i % 7 === 0 && next() < 0.3) return [NaN, Infinity, -Infinity][Math.floor(next() * 3)]
        return Math.fround(level + 20 * normal(next) + (next() < 0.03 ? 5000 : 0))
      })
    })
    columns[1] = columns[1].map(() => NaN)
    for (const method of methods(n)) {
      const combiner = createCombiner64(n, columns.length, method)
      for (let k = 0; k < n; k++) combiner.plane(k).set(columns.map((c) => c[k]))
      combiner.combine(columns.length)
      columns.forEach((column, i) => {
        const wanted = combineColumn(column, method).value
        if (Number.isNaN(wanted)) expect(combiner.out[i]).toBeNaN()
        else expect(Math.abs(combiner.out[i] - wanted)).toBeLessThanOrEqual(1e-7 * Math.abs(wanted) + 1e-30)
      })
    }
  })

  it.each(counts)('equals the specification to the last bit for %i frames of whole numbers', (n) => {
    const columns = fill(n, n > 64 ? 12 : 40, 31 + n)
    for (const method of methods(n)) {
      const combiner = createCombiner64(n, columns.length, method)
      for (let k = 0; k < n; k++) combiner.plane(k).set(columns.map((c) => c[k]))
      combiner.combine(columns.length)
      expect(Array.from(combiner.out)).toEqual(columns.map((c) => Math.fround(combineColumn(c, method).value)))
    }
  })

  it('subtracts and scales in float64 on the way in', () => {
    const combiner = createCombiner64(2, 11, { name: 'mean' })
    const words = Array.from({ length: 11 }, (_, i) => i * 5000 - 20000)
    words.forEach((x, i) => combiner.raw.set([(x >> 8) & 255, x & 255], i * 2))
    combiner.dark.set(words.map((_, i) => 0.1 * i))
    combiner.calibrateRaw(0, 11, 32768, 1.25, true)
    combiner.plane(1).set(words)
    combiner.calibratePlane(1, 11, 3, true)
    words.forEach((x, i) => {
      expect(combiner.plane(0)[i]).toBe((x + 32768 - Math.fround(0.1 * i)) * 1.25)
      expect(combiner.plane(1)[i]).toBe((x - Math.fround(0.1 * i)) * 3)
    })
  })
})
