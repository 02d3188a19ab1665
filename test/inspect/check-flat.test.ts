import { describe, expect, it } from 'vitest'
import { checkFlat } from '../../main/inspect/check-flat.ts'
import { seeded, simulateFlat, type FlatScene, type Shadow } from './flats.ts'

const old: Shadow[] = [
  { x: 180, y: 120, diameter: 60, depth: 0.05 },
  { x: 420, y: 300, diameter: 40, depth: 0.03 },
]
const base: FlatScene = { width: 640, height: 432, level: 28_000, ePerAdu: 0.25, shadows: old }
const plane = (scene: Partial<FlatScene>, seed: number) => ({
  data: simulateFlat({ ...base, ...scene }, seed),
  width: base.width,
  height: base.height,
  cfa: true,
})
const master = plane({ frames: 25 }, 1)
const local = (check: ReturnType<typeof checkFlat>) => check.findings.filter((f) => f.what.startsWith('shadow'))

describe('a check flat', () => {
  it('holds, with nothing found, in 40 clean trials of a panel that is set anew each time (200 of whole frames: npm run chaos -- flats)', () => {
    const panel = seeded(5)
    for (let trial = 0; trial < 40; trial++) {
      const scene = { level: 28_000 * (0.9 + 0.2 * panel()), tilt: 0.009 * (2 * panel() - 1) }
      const check = checkFlat(plane(scene, 100 + trial), master)
      expect(check.findings, `trial ${trial}`).toEqual([])
      expect(check.holds, check.text).toBe(true)
    }
  }, 60_000)

  it.each([0.01, 0.015, 0.02, 0.03, 0.05])('finds a new shadow of depth %f, where it is and how large', (depth) => {
    for (const diameter of [40, 70, 110]) {
      const planted = { x: 500, y: 140, diameter, depth }
      const found = local(checkFlat(plane({ shadows: [...old, planted] }, 7), master))
      expect(found, `${diameter} px`).toHaveLength(1)
      expect(found[0].what).toBe('shadow-new')
      expect(Math.hypot(found[0].where!.x - planted.x, found[0].where!.y - planted.y)).toBeLessThan(12)
      expect(Math.abs(found[0].depth / depth - 1)).toBeLessThan(0.2)
      expect(Math.abs(found[0].sizePx! / diameter - 1)).toBeLessThan(0.4)
    }
  })

  it('no longer holds with a shadow of 2 %, and says where', () => {
    const check = checkFlat(plane({ shadows: [...old, { x: 500, y: 140, diameter: 70, depth: 0.02 }] }, 8), master)
    expect(check.holds).toBe(false)
    expect(check.text).toContain('dust shadow')
  })

  it('tells a shadow that went from one that came', () => {
    const found = local(checkFlat(plane({ shadows: [old[1]] }, 9), master))
    expect(found.map((f) => f.what)).toEqual(['shadow-gone'])
    expect(Math.hypot(found[0].where!.x - old[0].x, found[0].where!.y - old[0].y)).toBeLessThan(12)
  })

  it('holds at a shadow of 0.5 %', () => {
    expect(
      checkFlat(plane({ shadows: [...old, { x: 500, y: 140, diameter: 70, depth: 0.005 }] }, 10), master).holds,
    ).toBe(true)
  })

  it('catches a rotation of 2° by the dust that moved, once the frame is wide enough for it to move far', () => {
    // 2° move a shadow 700 px from the centre by 24 px; on a whole 4144 px frame it is 70 px at the edge.
    const wide = { ...base, width: 1600, height: 1088, shadows: [{ x: 180, y: 200, diameter: 60, depth: 0.05 }] }
    const of = (rotationDeg: number, seed: number) => ({
      ...wide,
      data: simulateFlat({ ...wide, rotationDeg }, seed),
      cfa: true,
    })
    const check = checkFlat(of(2, 11), of(0, 12))
    expect(check.holds).toBe(false)
    expect(new Set(local(check).map((f) => f.what))).toEqual(new Set(['shadow-new', 'shadow-gone']))
    expect(checkFlat(of(0, 13), of(0, 12)).holds).toBe(true)
  })

  it('does not mind a brighter panel', () => {
    const check = checkFlat(plane({ level: 33_000 }, 12), master)
    expect(check.holds).toBe(true)
    expect(check.findings).toEqual([])
    expect(check.figures.cellRatio[1]).toBeCloseTo(33 / 28, 3)
  })

  it('reports a panel put back at a slant as tilt, and still holds', () => {
    const check = checkFlat(plane({ tilt: 0.04 }, 13), master)
    expect(check.holds).toBe(true)
    expect(check.findings.map((f) => f.what)).toEqual(['tilt'])
    expect(check.figures.tilt).toBeCloseTo(0.04, 2)
  })

  it('refuses a frame of another size in one sentence', () => {
    const small = { data: new Float32Array(100 * 100).fill(1), width: 100, height: 100, cfa: true }
    expect(() => checkFlat(small, master)).toThrow(/100 × 100 px and the master 640 × 432 px/)
  })
})
