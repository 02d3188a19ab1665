import { describe, expect, it } from 'vitest'
import { flatLight, takeFlat, type FlatShot } from '../../main/demo/panel.ts'
import { Random } from '../../main/demo/random.ts'
import { larkfield } from '../../main/demo/rig.ts'
import { createSensor, heron11c } from '../../main/demo/sensor.ts'
import { illumination } from '../../main/demo/train.ts'

const width = 518
const height = 352
const sensor = createSensor(heron11c, { width, height }, 1)
const shot: FlatShot = { filter: 'luminance', panel: { levelAdu: 28_000 }, exposureS: 3, gain: 100, offset: 30 }
const at = (map: Float32Array, x: number, y: number) => map[y * width + x]

describe('a simulated flat', () => {
  it('comes to the level that the panel was set for, with the corners at the stated light', () => {
    const flat = takeFlat(sensor, { ...shot, sensorTempC: -10 }, flatLight(sensor, larkfield, shot), new Random(1, 'f'))
    const median = flat.slice().sort()[flat.length >> 1]
    expect(Math.abs(median / 28_000 - 1)).toBeLessThan(0.01)
    const bare = { ...larkfield, shadows: [], filters: larkfield.filters.map((f) => ({ ...f, shadows: [] })) }
    const lit = illumination({ ...bare, centre: { x: 0.5, y: 0.5 } }, sensor, { filter: 'luminance' })
    expect(at(lit, 0, 0)).toBeCloseTo(larkfield.cornerLight, 2)
    expect(at(lit, width / 2, height / 2)).toBeCloseTo(1, 3)
  })

  it('loses the planted fraction of its light in a planted shadow, and nothing elsewhere', () => {
    const before = illumination(larkfield, sensor, { filter: 'luminance' })
    const mote = { x: 0.6, y: 0.3, diameter: 0.08, depth: 0.03 }
    const after = illumination(larkfield, sensor, { filter: 'luminance', extraShadows: [mote] })
    const ratios = after.map((v, i) => v / before[i])
    expect(1 - ratios.reduce((least, r) => Math.min(least, r))).toBeCloseTo(0.03, 3)
    expect(at(ratios, 20, 300)).toBe(1)
    // Just inside its edge (0.08 × 518 / 2 = 20.7 px from the centre) the light is down, just outside it is not.
    expect(at(ratios, Math.round(0.6 * width) + 15, Math.round(0.3 * height))).toBeLessThan(0.972)
    expect(at(ratios, Math.round(0.6 * width) + 28, Math.round(0.3 * height))).toBe(1)
  })

  it('turns with the train, but for the motes on the sensor itself', () => {
    const [, , onSensor] = larkfield.shadows
    const still = illumination(larkfield, sensor, { filter: 'luminance' })
    const turned = illumination(larkfield, sensor, { filter: 'luminance', rotationDeg: 180 })
    const here = (map: Float32Array) => {
      const x = Math.round(onSensor.x * width)
      const y = Math.round(onSensor.y * height)
      return at(map, x, y) / at(map, x + 12, y)
    }
    expect(here(turned)).toBeCloseTo(here(still), 2)
    const [mote] = larkfield.filters[0].shadows
    const dip = (map: Float32Array, x: number, y: number) => at(map, x, y) / at(map, x, y - 40)
    expect(dip(still, Math.round(mote.x * width), Math.round(mote.y * height))).toBeLessThan(0.99)
    expect(at(turned, width - 1 - Math.round(mote.x * width), height - 1 - Math.round(mote.y * height))).toBeLessThan(
      0.985,
    )
  })

  it('tilts with the panel, and shines brighter without changing its shape', () => {
    const level = flatLight(sensor, larkfield, shot)
    const tilted = flatLight(sensor, larkfield, { ...shot, panel: { levelAdu: 28_000, tiltX: 0.02 } })
    const slope = at(tilted, width - 1, 10) / at(level, width - 1, 10) / (at(tilted, 1, 10) / at(level, 1, 10))
    expect(slope).toBeCloseTo(1.01 / 0.99, 3)
    const brighter = flatLight(sensor, larkfield, { ...shot, panel: { levelAdu: 41_000 } })
    expect(at(brighter, 77, 40) / at(level, 77, 40)).toBeCloseTo(at(brighter, 300, 200) / at(level, 300, 200), 4)
  })

  it('carries star trails where it was taken of the sky', () => {
    const sky = { levelAdu: 28_000, starTrails: { count: 5, lengthPx: 60, electronsPerS: 400 } }
    const grown = flatLight(sensor, larkfield, { ...shot, panel: sky }).map((v, i) => v - flatLightOnce[i])
    expect(grown.filter((v) => v > 399).length).toBeGreaterThan(5 * 30)
  })

  it('is uneven in its channels through a dual-band filter, though the panel is perfect', () => {
    const dual = flatLight(sensor, larkfield, { ...shot, filter: 'dual-band' })
    const x = 250
    const y = 170
    expect(at(dual, x, y) / at(dual, x + 1, y)).toBeLessThan(0.8)
  })
})

const flatLightOnce = flatLight(sensor, larkfield, shot)
