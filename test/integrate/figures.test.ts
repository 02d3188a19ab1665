import { describe, expect, it } from 'vitest'
import { blockMedians, interpolateRow } from '../../main/integrate/block-map.ts'
import { darkFigures, flatFigures } from '../../main/integrate/figures.ts'
import { measureNoise, noisePenalty, normalSd } from '../../main/integrate/noise.ts'
import { normal, random } from './columns.ts'

const [width, height] = [512, 384]
const picture = (value: (x: number, y: number) => number, cfa: string | null = null) => ({
  pixels: Float32Array.from({ length: width * height }, (_, i) => value(i % width, Math.floor(i / width))),
  width,
  height,
  cfa,
})

describe('the figures of a dark', () => {
  it('count the hot pixels that were planted, state the threshold, and find the glow where it is', () => {
    const next = random(3)
    const glow = (x: number, y: number) => 300 * Math.exp(-(((width - x) / 80) ** 2) - ((y - 100) / 60) ** 2)
    const dark = picture((x, y) => 500 + glow(x, y) + 2 * normal(next))
    for (let k = 0; k < 50; k++) dark.pixels[1000 + k * 3331] += 400
    const figures = darkFigures(dark, { master: 2, frame: 10, expected: 2.2 })
    expect(figures).toMatchObject({ hotThresholdAdu: 50, hotPixels: 50, noise: 2, frameNoise: 10, expectedNoise: 2.2 })
    expect(figures.glowPeakAdu).toBeGreaterThan(150)
    expect(figures.glowPeakAt!.x).toBeGreaterThan(440)
    expect(Math.abs(figures.glowPeakAt!.y - 100)).toBeLessThanOrEqual(32)
    expect(figures.median).toBeCloseTo(500.3, 0)
  })

  it("use the pixels' own scatter where no frame's noise is known", () => {
    const next = random(4)
    const figures = darkFigures(
      picture(() => 500 + 3 * normal(next)),
      null,
    )
    expect(figures.hotThresholdAdu! / 15).toBeCloseTo(1, 1)
    expect(figures.noise).toBeNull()
  })
})

describe('the figures of a flat', () => {
  it('are vignetting, balance and signal to noise per pixel', () => {
    const colour = { R: 0.8, G: 1, B: 0.6 } as Record<string, number>
    const fall = (x: number, y: number) => 1 - 0.4 * (((x - 255.5) / 256) ** 2 + ((y - 191.5) / 192) ** 2) * 0.5
    const flat = picture((x, y) => 20000 * colour['RGGB'[(y % 2) * 2 + (x % 2)]] * fall(x, y), 'RGGB')
    const { flat: found, hotPixels, median } = flatFigures(flat, { master: 20, frame: 100, expected: 20 })
    expect(found!.vignetting).toBeCloseTo(0.38, 1)
    expect(found!.balance!.R).toBeCloseTo(0.8, 2)
    expect(found!.balance!.B).toBeCloseTo(0.6, 2)
    expect([found!.snr, found!.frameSnr, hotPixels]).toEqual([median / 20, median / 100, null])
  })
})

describe('block medians', () => {
  it('are those of each block, cut ones included, and NaN where nothing is', () => {
    const pixels = Float32Array.from([1, 2, 9, 3, 4, NaN, 5, 6, NaN])
    const map = blockMedians(pixels, 3, 3, 2)
    expect([map.columns, map.rows, Array.from(map.medians)]).toEqual([2, 2, [2.5, 9, 5.5, NaN]])
  })

  it('give a straight gradient back, up to the edges', () => {
    const map = blockMedians(
      Float32Array.from({ length: 64 * 64 }, (_, i) => i % 64),
      64,
      64,
      8,
    )
    const row = new Float32Array(64)
    interpolateRow(map, 30, row)
    for (let x = 0; x < 64; x++) expect(row[x]).toBeCloseTo(x, 4)
  })
})

describe('noise', () => {
  it('is the standard deviation of what is normal, whole steps and outliers or not', () => {
    const next = random(8)
    const values = Float32Array.from({ length: 200_000 }, (_, i) => (i % 500 ? Math.round(3 * normal(next)) : 9000))
    expect(normalSd(values) / Math.sqrt(9 + 1 / 12)).toBeCloseTo(1, 2)
    expect(normalSd(new Float32Array(100).fill(7))).toBe(0)
  })

  it('of a master comes from its halves, of a frame from the first two', () => {
    const next = random(9)
    const halves = Float32Array.from({ length: 100_000 }, () => 10 * Math.sqrt(1 / 11 + 1 / 10) * normal(next))
    const pair = Float32Array.from({ length: 100_000 }, () => 10 * Math.SQRT2 * normal(next))
    const noise = measureNoise(halves, pair, 21, { name: 'mean' })
    expect(noise.master! / (10 / Math.sqrt(21))).toBeCloseTo(1, 1)
    expect(noise.frame! / 10).toBeCloseTo(1, 1)
    expect(noise.expected! / (10 / Math.sqrt(21))).toBeCloseTo(1, 1)
  })

  // stats.stackexchange 468688 (exact efficiencies); astropy.stats.sigma_clip by Monte Carlo for the clips.
  it('is more than that of a mean by what each method loses', () => {
    expect([3, 4, 16].map((n) => Number(noisePenalty({ name: 'median' }, n).toFixed(4)))).toEqual([
      1.1602, 1.0921, 1.2025,
    ])
    for (const [n, penalty] of [
      [21, 1.2403],
      [51, 1.248],
      [101, 1.2506],
    ])
      expect(noisePenalty({ name: 'median' }, n)).toBeCloseTo(penalty, 2)
    expect(noisePenalty({ name: 'sigmaClip', low: 3, high: 3, rounds: 5 }, 20)).toBe(1.008)
    expect(noisePenalty({ name: 'madClip', low: 5, high: 5, rounds: 5, leastSigma: 0 }, 10)).toBe(1.017)
    expect(noisePenalty({ name: 'mean' }, 5)).toBe(1)
  })

  it('of a trimmed mean is that of simulated stacks', () => {
    const next = random(10)
    const squares = Array.from({ length: 20_000 }, () => {
      const values = Float64Array.from({ length: 20 }, () => normal(next)).sort()
      return values.subarray(2, 18).reduce((a, b) => a + b) ** 2 / 256
    })
    const measured = Math.sqrt(squares.reduce((a, b) => a + b) / squares.length) * Math.sqrt(20)
    expect(noisePenalty({ name: 'minMax', low: 2, high: 2 }, 20) / measured).toBeCloseTo(1, 1)
  })
})
