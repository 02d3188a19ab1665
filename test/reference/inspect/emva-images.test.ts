import { existsSync, readFileSync } from 'node:fs'
import { fileURLToPath } from 'node:url'
import { describe, expect, it } from 'vitest'
import { openImage } from '../../../main/fits/index.ts'
import { nonUniformity, pairFigures, spatialFigures } from '../../../main/inspect/photon-transfer.ts'
import { measureSensor } from '../../../main/inspect/sensor-pairs.ts'

/**
 * The frames of the EMVA 1288 reference data set 001 (real 12-bit camera; © 2011 Basler AG, Dr. Marco Grimm, CC BY-SA 3.0).
 * Expected: the published sums and variances of each pair, and what numpy computed from the same pixels.
 */
const folder = new URL('../../../../shared/opendata/emva1288/', import.meta.url)
const there = existsSync(folder)
const file = (name: string) => fileURLToPath(new URL(`${name}.fits.fz`, folder))
const json = (name: string) => JSON.parse(readFileSync(new URL(name, folder), 'utf8'))

function pixels(name: string): Uint16Array {
  using image = openImage(file(name))
  return image.readAll() as Uint16Array
}
const pair = (kind: 'b' | 'd', level: number) =>
  [1, 2].map((k) => `${kind}_${String(level).padStart(3, '0')}_snap_00${k}`)

describe.skipIf(!there)(there ? 'real frames of the published set' : 'not run (no ../shared here): real frames', () => {
  const published = there
    ? readFileSync(new URL('published_temporal_inputs.csv', folder), 'utf8').trim().split('\n').slice(1)
    : []

  it.each([0, 5, 11, 18, 25, 36])('give the published integer sums and variances at level %i', (level) => {
    const [, , , brightSum, brightPvar, darkSum, darkPvar] = published[level].split(',').map(Number)
    for (const [kind, sum, pvar] of [
      ['b', brightSum, brightPvar],
      ['d', darkSum, darkPvar],
    ] as const) {
      const [a, b] = pair(kind, level).map(pixels)
      const figures = pairFigures(a, b)
      expect(Math.round(figures.mean * 2 * figures.pixels)).toBe(sum)
      expect(Math.round(figures.variance * 4 * figures.pixels)).toBe(pvar)
    }
  })

  it('give numpy’s gain and read noise by two flats and two darks', () => {
    for (const expected of json('two_flat_two_dark.json')) {
      const report = measureSensor(pair('b', expected.level).map(file), pair('d', expected.level).map(file))
      expect(report.ePerDn.value).toBeCloseTo(expected.gain_e_per_DN, 9)
      // numpy's figure keeps the quantisation noise of one DN that EMVA takes out.
      const withQuantisation = report.temporalDarkNoiseDn * report.ePerDn.value
      expect(withQuantisation).toBeCloseTo(expected.readnoise_e, 9)
    }
  })

  it('give the whole curve from six levels within 2 % of the published gain of fifty', () => {
    const of = (kind: 'b' | 'd') => [0, 5, 11, 18, 25, 36].flatMap((level) => pair(kind, level).map(file))
    const report = measureSensor(of('b'), of('d'))
    expect(Math.abs(report.gainDnPerE.value / 0.280769280926 - 1)).toBeLessThan(0.02)
    expect(report.gainDnPerE.ci95[0]).toBeLessThan(0.280769280926)
    expect(report.gainDnPerE.ci95[1]).toBeGreaterThan(0.280769280926)
    expect(Math.abs(report.temporalDarkNoiseE.value / 10.898 - 1)).toBeLessThan(0.03)
  })

  it('give numpy’s DSNU and PRNU from eight frames of each', () => {
    const stack = (kind: 'b' | 'd') => Array.from({ length: 8 }, (_, k) => pixels(`${kind}_s_000_snap_00${k}`))
    const expected = json('stack8_spatial.json')
    const figures = nonUniformity(spatialFigures(stack('d')), spatialFigures(stack('b')), 0.280769280926)
    expect(figures.dsnuE).toBeCloseTo(expected.DSNU1288_e, 9)
    expect(figures.prnuPercent).toBeCloseTo(expected.PRNU1288_pct, 9)
  })
})
