import { expect, test } from 'vitest'
import type { Frame, Master } from '../../../../main/contract/index.ts'
import { plain } from '../../../../renderer/parts/format.ts'
import { differencesOf, mayChoose } from '../../../../renderer/places/frame/chosen.ts'

const light = {
  ...{ camera: 'Heron 11C', width: 518, height: 352, binning: '1x1', gain: 100, offset: 30, exposureS: 300 },
  ...{ setTempC: -10, sensorTempC: -9.9, filter: 'luminance' },
} as Frame
let id = 1
const dark = (own: Partial<Master>) =>
  ({
    ...light,
    sensorTempC: -10,
    kind: 'dark',
    state: 'ready',
    scale: 'adu',
    subtracted: 'none',
    ageDays: null,
    frames: null,
    ...own,
    id: id++,
  }) as Master

test('masters of the light’s camera and size may be set before it, the nearest first, whatever the match says', () => {
  const masters = [
    dark({ exposureS: 120, offset: 20 }),
    dark({ exposureS: 180, setTempC: -11.5, sensorTempC: -11.5 }),
    dark({ frames: 30, ageDays: 42 }),
    dark({ exposureS: 600 }),
    dark({ scale: null }),
    dark({ width: 259 }),
    dark({ camera: 'Heron 12' }),
    dark({ kind: 'flat' }),
    dark({ state: 'damaged' }),
    dark({ gain: 0, state: 'retired' }),
  ]
  expect(mayChoose(masters, light, 'dark').map(({ label }) => plain(label))).toEqual([
    '300 s, gain 100, offset 30, -10.0 °C; 42 days old, 30 frames',
    '300 s, gain 0, offset 30, -10.0 °C; retired',
    '600 s, gain 100, offset 30, -10.0 °C',
    '180 s, gain 100, offset 30, -11.5 °C',
    '120 s, gain 100, offset 20, -10.0 °C',
  ])
  expect(mayChoose(masters, light, 'flat').map(({ label }) => plain(label))).toEqual(['luminance, gain 100, offset 30'])
})

test('in what a chosen master is not the light’s is said in words', () => {
  const said = (own: Partial<Master>, wanted: 'dark' | 'flat' = 'dark') =>
    differencesOf(dark(own), light, wanted).map((text) => plain(text))
  expect(said({})).toEqual([])
  expect(said({ exposureS: 300.2, sensorTempC: -9.5 })).toEqual([])
  expect(said({ exposureS: 180, offset: 50, sensorTempC: -11.5 })).toEqual([
    'exposure 180 s, the frame has 300 s',
    'offset 50, the frame has 30',
    'sensor temperature -11.5 °C, the frame has -9.9 °C',
  ])
  expect(said({ exposureS: 3, filter: null }, 'flat')).toEqual(['filter not known, the frame has luminance'])
})
