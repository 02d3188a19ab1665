import { describe, expect, it } from 'vitest'
import { checkDark } from '../../main/inspect/check-dark.ts'
import { simulateDark, type DarkScene } from './darks.ts'

const base: DarkScene = { width: 640, height: 448, pedestal: 1920, glow: 800, noise: 22 }
const plane = (scene: Partial<DarkScene>, seed: number, whole = true) => {
  const data = simulateDark({ ...base, ...scene }, seed)
  return { data: whole ? data.map(Math.round) : data, width: base.width, height: base.height, cfa: true }
}
const master = plane({ frames: 30 }, 1, false)
const found = (check: ReturnType<typeof checkDark>) => check.findings.map((f) => f.what)

describe('a check dark', () => {
  it('holds, with nothing found, in 30 fresh darks of the same settings', () => {
    for (let trial = 0; trial < 30; trial++) {
      const check = checkDark(plane({}, 50 + trial), master)
      expect(found(check), `trial ${trial}: ${check.text}`).toEqual([])
      expect(check.holds).toBe(true)
      expect(Math.abs(check.figures.glowRatio! - 1)).toBeLessThan(0.02)
      expect(Math.abs(check.figures.signalRatio! - 1)).toBeLessThan(0.03)
    }
  }, 60_000)
  it('tells a step of the level by a driver, to a tenth of an ADU', () => {
    const check = checkDark(plane({ pedestal: 1944 }, 2), master)
    expect(found(check)).toEqual(['pedestal'])
    expect(Math.abs(check.figures.pedestalAdu - 24)).toBeLessThan(0.4)
    expect(check.text).toContain('Shoot new darks')
  })
  it('tells a glow of another height, and where it is', () => {
    const check = checkDark(plane({ glow: 900 }, 3), master)
    expect(found(check)).toEqual(['glow'])
    expect(check.findings[0].depth).toBeGreaterThan(60)
    expect(check.findings[0].where!.x).toBeGreaterThan(0.9 * base.width)
  })
  it('tells a light leak, and a glow that sits elsewhere, which no height of the master’s glow explains', () => {
    const leak = plane({}, 9)
    // 15 ADU in a corner of 128 px, where the master has no glow: less than the noise of one pixel, 22 ADU.
    for (let y = 0; y < 128; y++) for (let x = 0; x < 128; x++) leak.data[y * base.width + x] += 15
    const check = checkDark(leak, master)
    expect(found(check)).toEqual(['glow-shape'])
    expect(Math.abs(check.findings[0].depth - 15)).toBeLessThan(3)
    expect(Math.hypot(check.findings[0].where!.x - 64, check.findings[0].where!.y - 64)).toBeLessThan(64)
    const quiet = plane({ glow: 0, frames: 30 }, 7, false)
    expect(found(checkDark(plane({ glow: 60 }, 8), quiet))).toContain('glow-shape')
    expect(found(checkDark(plane({ glow: 0 }, 8), quiet))).toEqual([])
  })
  it('tells a sensor 2 °C warmer (doubling over 6.7 °C) by what its hot pixels gathered', () => {
    const check = checkDark(plane({ signal: 2 ** (2 / 6.7) }, 4), master)
    expect(found(check)).toEqual(['dark-signal'])
    expect(check.figures.signalRatio).toBeCloseTo(2 ** (2 / 6.7), 1)
  })
  it('tells pixels that became hot', () => {
    const check = checkDark(plane({ newHot: 1e-3 }, 5), master)
    expect(found(check)).toEqual(['hot-new'])
    expect(check.figures.hotNew / (640 * 448)).toBeCloseTo(1e-3, 3)
  })
  it('tells another sensor of the same model by its hot pixels', () => {
    const check = checkDark(plane({ sensor: 2 }, 6), master)
    expect(found(check)).toContain('another-sensor')
    expect(check.text).toContain('not the same sensor')
  })
  it('has no glow figures for a sensor without glow', () => {
    const dim = plane({ glow: 0, frames: 30 }, 7, false)
    expect(checkDark(plane({ glow: 0 }, 8), dim).figures.glowRatio).toBeNull()
  })
})
