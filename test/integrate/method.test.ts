import { describe, expect, it } from 'vitest'
import { clipBounds, combineColumn } from '../../main/integrate/column.ts'
import { checkMethod, defaultMethod, type Method } from '../../main/integrate/method.ts'

const clip: Method = { name: 'sigmaClip', low: 3, high: 3, rounds: 5 }

/** Good values at 0 and ±1 in turn, and `outliers` of them far off at the same value. */
const column = (frames: number, outliers: number): number[] =>
  Array.from({ length: frames }, (_, i) => (i < outliers ? 1e6 : 1000 + ((i % 3) - 1)))
const rejects = (frames: number, outliers: number, method: Method) =>
  combineColumn(column(frames, outliers), method).kept === frames - outliers

// Computed facts of the standard deviation: an outlier is part of its own measure.
describe('what a clip can reject', () => {
  it('at 3 standard deviations about the median: one far outlier from 8 frames on, two equal ones from 16, three from 24', () => {
    const least = (outliers: number) => {
      let frames = 2 * outliers + 1
      while (!rejects(frames, outliers, clip)) frames++
      return frames
    }
    expect([1, 2, 3].map(least)).toEqual([8, 16, 24])
  })

  it('with the default method is one outlier from 4 frames on, and two equal ones from 6 on', () => {
    for (let frames = 4; frames <= 40; frames++) expect(rejects(frames, 1, defaultMethod(frames))).toBe(true)
    for (let frames = 6; frames < 16; frames++) expect(rejects(frames, 2, defaultMethod(frames))).toBe(true)
  })

  it('keeps quantised values that lie within a few steps, where the MAD is zero', () => {
    const values = [100, 100, 100, 100, 100, 100, 104, 96, 100, 9000]
    const { value, kept } = combineColumn(values, defaultMethod(10, 4))
    expect([value, kept]).toEqual([100, 9])
    expect(combineColumn([...values.slice(0, 8), 104, 9000], defaultMethod(10, 4)).kept).toBe(9)
    expect(combineColumn(values, { name: 'madClip', low: 5, high: 5, rounds: 5, leastSigma: 0 }).kept).toBe(7)
  })

  it('takes a value back that an early round rejected, when the last limits include it', () => {
    // Found by search: what is kept is not what the rounds left, but all within the last limits.
    const method: Method = { name: 'sigmaClip', low: 1, high: 1, rounds: 2 }
    const values = [0, 0, 0, 5, 6, 6, 9, 20]
    const [lower, upper] = clipBounds(values, method)
    expect(combineColumn(values, method).kept).toBe(values.filter((x) => x >= lower && x <= upper).length)
  })
})

describe('a method', () => {
  it('that would leave nothing, or has no rounds, is refused with its numbers', () => {
    expect(() => checkMethod({ name: 'minMax', low: 2, high: 1 }, 3)).toThrow('2 lowest and 1 highest of 3 frames')
    expect(() => checkMethod({ name: 'sigmaClip', low: 3, high: 3, rounds: 0 }, 3)).toThrow('at least one round, not 0')
    expect(() => checkMethod({ name: 'mean' }, 0)).toThrow(RangeError)
    expect(() => checkMethod({ name: 'mean' }, 4000)).toThrow(RangeError)
  })
})
