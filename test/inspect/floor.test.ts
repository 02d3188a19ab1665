import { describe, expect, it } from 'vitest'
import { findFloor } from '../../main/inspect/floor.ts'

/** Two frames at each exposure of a lamp that gives 9 000 ADU a second; `fault` says what goes wrong below some exposure. */
const series = (exposures: number[], fault: (s: number, frame: number) => number) =>
  exposures.flatMap((exposureS) =>
    [0, 1].map((frame) => ({ exposureS, levelAdu: 9_000 * exposureS * fault(exposureS, frame) })),
  )

describe('the sensor’s own floor', () => {
  const exposures = [0.1, 0.5, 1, 2, 3, 5]

  it('is the shortest exposure from which the level follows the exposure', () => {
    const { floorS, points, text } = findFloor(series(exposures, (s) => 1 - 0.03 / s))
    // A shutter that steals 0.03 s: 3 % at 1 s, 1.5 % at 2 s, 1 % at 3 s against 0.6 % at 5 s.
    expect(points.map((p) => p.steady)).toEqual([false, false, false, true, true, true])
    expect(floorS).toBe(2)
    expect(text).toBe('Steady from 2 s on; at 1 s the level is off by 2.2 % from what its exposure should give.')
  })
  it('is above exposures whose level jumps from frame to frame', () => {
    const { floorS, text } = findFloor(series(exposures, (s, frame) => (s < 1 ? 1 + 0.04 * frame : 1)))
    expect(floorS).toBe(1)
    expect(text).toContain('levels jump by')
  })
  it('may lie below the shortest exposure tried', () => {
    expect(findFloor(series(exposures, () => 1)).text).toContain('the floor may lie lower')
  })
  it('is not found where even the longest exposures jump', () => {
    expect(findFloor(series(exposures, (_, frame) => 1 + 0.05 * frame)).floorS).toBeNull()
  })
  it('is not told from two exposures', () => {
    expect(() => findFloor(series([1, 2], () => 1))).toThrow(RangeError)
  })
})
