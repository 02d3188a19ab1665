import { existsSync, readFileSync } from 'node:fs'
import { expect, test } from 'vitest'
import { parseHeader } from '../../../main/fits/header.ts'
import { describeFrame } from '../../../main/frame/describe.ts'

/** Two real frames from the astropy ccdproc test data (BSD-3-Clause): a 1.0 m observatory CCD, and a cooled camera after SBFITSEXT. */
const folder = new URL('../../../../shared/opendata/real-ccd-frames/', import.meta.url)
const there = existsSync(folder)
const title = (text: string) => (there ? text : `not run (no ../shared here): ${text}`)

const describeFile = (name: string) =>
  describeFrame(
    parseHeader(readFileSync(new URL(name, folder))),
    { path: `/nights/${name}`, root: '/nights', mtimeMs: 0, width: null, height: null },
    { zone: 'UTC', rig: null },
  )

test.skipIf(!there)(
  title('an observatory’s light: gain in e-/ADU, a kelvin-like temperature, date and time apart'),
  () => {
    const facts = describeFile('a8280271.fits')
    expect(facts).toMatchObject({
      kind: 'light',
      kindFrom: 'header',
      camera: 'STE3 CCD',
      telescope: 'SAAO 1.0m',
      target: 'rf0420',
      filter: '48',
      exposureS: 150.04,
      gain: null,
      electronsPerAdu: 1.9,
      sensorTempC: null,
      setTempC: null,
      offset: null,
      binning: null,
      startedAt: '2013-07-13T00:57:33.000Z',
      night: '2013-07-12',
    })
    expect(facts.conflicts.map((conflict) => conflict.setting)).toEqual(['sensorTempC'])
  },
)

test.skipIf(!there)(
  title('a cooled camera’s light after SBFITSEXT: float32 noise, degrees in words, noughts for unknown'),
  () => {
    expect(describeFile('cooled_ccd_light_crop.fit')).toMatchObject({
      kind: 'light',
      exposureS: 120,
      setTempC: -18.9,
      sensorTempC: -19.02,
      binning: '1x1',
      originX: 0,
      originY: 0,
      pixelUm: 9,
      filter: 'B',
      focalMm: null,
      gain: null,
      offset: null,
      siteLatDeg: 46.86678,
      siteLongDeg: -96.453278,
      startedAt: '2011-09-01T02:09:05.000Z',
      night: '2011-08-31',
      conflicts: [],
    })
  },
)
