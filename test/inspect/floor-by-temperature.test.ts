import { describe, expect, it } from 'vitest'
import { compareTemperatures, splitByTemperature } from '../../main/inspect/floor-by-temperature.ts'

/** Two frames at each exposure of a lamp of 9 000 ADU a second, the second one brighter by `jump`. */
const series = (
  tempC: number,
  pedestal: number,
  exposures: number[],
  gain = 1,
  jump: (s: number) => number = () => 0,
) =>
  exposures.flatMap((exposureS) =>
    [0, 1].map((n) => ({
      exposureS,
      tempC,
      levelAdu: pedestal + 9_000 * exposureS * gain * (1 + n * jump(exposureS)),
    })),
  )

describe('frames cooled and uncooled', () => {
  it('are told apart by a gap of more than 5 °C, whatever their order', () => {
    const frames = [19, -10, 21.5, -9.8].map((tempC) => ({ tempC }))
    expect(splitByTemperature(frames)).toEqual({
      cooled: [{ tempC: -10 }, { tempC: -9.8 }],
      uncooled: [{ tempC: 19 }, { tempC: 21.5 }],
    })
    // An uncooled sensor that warms up slowly is one group.
    expect(splitByTemperature([15, 19, 23, 27].map((tempC) => ({ tempC })))).toBeNull()
    expect(splitByTemperature([])).toBeNull()
  })

  it('that behave alike are said to', () => {
    const { points, pedestalDiffers, text } = compareTemperatures(
      series(-10, 1_900, [1, 3]),
      series(20, 1_905, [3, 1]),
      { cooled: 1_900, uncooled: 1_905 },
    )
    expect(points.map((p) => [p.exposureS, p.levelDiffers, p.jumpDiffers])).toEqual([
      [1, false, false],
      [3, false, false],
    ])
    expect(pedestalDiffers).toBe(false)
    expect(text).toBe(
      'Uncooled (20.0 °C) against cooled (−10.0 °C): at 1 s the level is the same and jumps no differently; at 3 s the level is the same and jumps no differently; the pedestal is the same.',
    )
  })

  it('are told by level, jump and pedestal, each by itself', () => {
    const warm = [...series(20, 1_960, [1], 1, () => 0.04), ...series(20, 1_960, [3], 1.03)]
    const { points, text } = compareTemperatures(series(-10, 1_900, [1, 3]), warm, { cooled: 1_900, uncooled: 1_960 })
    expect(points[1].levelChange).toBeCloseTo(0.03, 6)
    expect(text).toBe(
      'Uncooled (20.0 °C) against cooled (−10.0 °C): at 1 s the level is the same and jumps by 3.9 % instead of 0.0 %; at 3 s the level is 3.0 % higher and jumps no differently; the pedestal is 60 ADU higher.',
    )
  })

  it('with one frame each, or one pedestal, say what cannot be told', () => {
    const one = (tempC: number) => [{ exposureS: 2, tempC, levelAdu: 20_000 }]
    const { text, pedestalDiffers } = compareTemperatures(one(-10), one(15), { cooled: 1_900, uncooled: null })
    expect(pedestalDiffers).toBeNull()
    expect(text).toContain('at 2 s the level is the same (jumps need two frames each)')
    expect(text).toContain('the pedestal uncooled is not known')
  })

  it('without an exposure in common are not compared', () => {
    const { points, text } = compareTemperatures(series(-10, 0, [1]), series(20, 0, [2]), { cooled: 0, uncooled: 0 })
    expect(points).toEqual([])
    expect(text).toContain('no exposure in common')
  })
})
