import { describe, expect, test } from 'vitest'
import type { Answer, Run, SensorFiguresAnswer } from '../../../../main/contract/index.ts'
import { plain } from '../../../../renderer/parts/format.ts'
import { byCamera, figureRows, settingTitle } from '../../../../renderer/places/sensors/figures.ts'
import {
  againstRules,
  comparedText,
  floorMarks,
  floorReason,
  floorRows,
  floorScale,
  floorSeries,
} from '../../../../renderer/places/sensors/floor.ts'

const sensor: SensorFiguresAnswer = {
  ...{ camera: 'Heron 11C', body: 'HR-1', gain: 100, offset: 30, readout: null, binning: '1x1' },
  measuredAt: '2026-11-20T23:00:00.000Z',
  ePerAdu: { value: 0.2842, ci95: [0.2823, 0.286] },
  temporalDarkNoiseE: { value: 1.652, ci95: [1.64, 1.664] },
  saturationE: null,
  linearityErrorPercent: null,
  darkCurrentEPerS: { value: 0.01234, ci95: [0.0102, 0.0145] },
  darkCurrentAtC: -10,
  doublingC: { value: 6.41, ci95: null },
  sources: ['/a', '/b'],
}

describe('figures of a sensor', () => {
  test('have as many digits as their interval bears, and say what to shoot for what cannot be told', () => {
    const said = figureRows(sensor).map(({ name, value, sure, lacks }) =>
      plain([name, value ?? `lacks: ${lacks!.slice(0, 31)}`, sure].filter(Boolean).join(' | ')),
    )
    expect(said).toEqual([
      'gain | 0.2842 e⁻/ADU | 0.2823 to 0.2860',
      // EMVA 1288 writes the gain as K, in DN per electron: the inverse.
      'the same as K of EMVA 1288 | 3.519 ADU/e⁻ | 3.497 to 3.542',
      'temporal noise in the dark | 1.652 e⁻ | 1.640 to 1.664',
      'dark current | 0.0123 e⁻/s at -10.0 °C | 0.0102 to 0.0145',
      'dark current doubles every | 6.41 °C | two temperatures leave no interval',
      'off a straight line | lacks: Flats of three or more exposure',
      'full well seen | lacks: Flats of three or more exposure',
    ])
  })
  test('stand by camera and body, under their settings; what is not known is left out', () => {
    expect(plain(settingTitle(sensor))).toBe('gain 100, offset 30, binning 1x1')
    expect(byCamera([sensor, { ...sensor, gain: 0 }, { ...sensor, body: null }]).map(({ of }) => of.length)).toEqual([
      1, 2,
    ])
  })
})

const night = '2026-11-20'
let nextId = 1
/** A run of flats whose frames begin at these seconds of the night. */
const flats = (exposureS: number, startsS: number[], setTempC = -10) =>
  ({
    ...{ kind: 'flat', night, camera: 'Heron 11C', body: null, gain: 100, offset: 30, readout: null, binning: '1x1' },
    ...{
      width: 518,
      height: 352,
      filter: 'luminance',
      exposureS,
      setTempC,
      sensorTempC: setTempC,
      frames: startsS.length,
    },
    firstAt: new Date(Date.parse(`${night}T20:00:00Z`) + startsS[0]! * 1000).toISOString(),
    startsS: startsS.map((s) => s - startsS[0]!),
    frameIds: startsS.map(() => nextId++),
  }) as unknown as Run
const from = (first: number, count: number, every: number) => Array.from({ length: count }, (_, i) => first + i * every)

describe('flats that tell a floor', () => {
  test('are three exposures of two frames, or one exposure at two temperatures', () => {
    const [a, b, c] = [flats(0.5, [0, 2]), flats(1, [10, 12]), flats(2, [20, 23])]
    expect(floorSeries([a, b])).toEqual([])
    const [series] = floorSeries([a, b, c])
    expect(plain(series!.label)).toContain('0.5 s, 1 s, 2 s; Heron 11C, gain 100')
    expect(series!.frames).toHaveLength(6)
    expect(floorSeries([flats(1, [0, 2]), flats(1, [900, 902], 15)])).toHaveLength(1)
    expect(floorSeries([flats(1, [0, 2]), flats(1, [900, 902], -8)])).toEqual([])
  })
  test('leave out a row of many of one exposure that was shot for a master under another light', () => {
    const own = from(2000, 4, 4)
    const run = flats(3, [...from(0, 25, 4), ...own])
    const [series] = floorSeries([run, flats(1, from(1900, 4, 2)), flats(5, from(2100, 4, 6))])
    expect(series!.frames.filter((id) => run.frameIds.includes(id))).toEqual(run.frameIds.slice(25))
  })
  test('take a few frames of each exposure where that is all there is, and each turn of a loop', () => {
    const [series] = floorSeries([flats(1, from(0, 25, 2)), flats(2, [100, 200, 300]), flats(3, [104, 204, 304])])
    expect(series!.frames).toHaveLength(8 + 3 + 3)
  })
})

const point = (exposureS: number, levelsAdu: number[], departure: number, steady: boolean) => ({
  ...{ exposureS, frames: levelsAdu.length, levelsAdu, departure, steady, jump: 0.004 },
  rateAduPerS: 1000 * (1 + departure),
})
const answer: Answer<'findFloor'> = {
  floorS: 1,
  text: 'Steady from 1 s on.',
  points: [point(0.5, [450, 470], -0.08, false), point(1, [1000, 1004], 0, true), point(2, [2000, 2002], 0, true)],
}
const compared = {
  cooled: { tempC: -10, pedestalAdu: 520 },
  uncooled: { tempC: 15, pedestalAdu: 560 },
  pedestalDiffers: true,
  text: '',
  points: [
    {
      ...{ exposureS: 1, levelChange: 0.02, levelDiffers: true, jumpCooled: 0, jumpUncooled: null, jumpDiffers: false },
      ...{ levelsCooledAdu: [1000], levelsUncooledAdu: [1020, 1022] },
    },
  ],
}

describe('the plot of a floor', () => {
  test('holds each frame against what its exposure should give', () => {
    const marks = floorMarks(answer)
    expect(marks.map(({ exposureS }) => exposureS)).toEqual([0.5, 1, 2])
    expect(marks[0]!.offs[0]).toBeCloseTo(-0.1, 9)
    expect(marks[1]!.offs[1]).toBeCloseTo(0.004, 9)
    const { reach, lines } = floorScale(marks)
    expect(reach).toBeCloseTo(0.12, 9)
    expect(lines).toHaveLength(7)
  })
  test('shows cooled and uncooled frames of one exposure by the cooled ones’ rate', () => {
    const marks = floorMarks({ floorS: null, points: [], text: '', compared })
    expect(marks.map(({ taken, offs }) => [taken, offs.map((off) => Number(off.toFixed(3)))])).toEqual([
      ['cooled', [0]],
      ['uncooled', [0.02, 0.022]],
    ])
    expect(plain(comparedText(compared))).toBe(
      'Uncooled: another level at 1 s; jumps no differently; the pedestal is 40 ADU higher.',
    )
  })
  test('is told as a table', () => {
    expect(floorRows(answer).map((row) => plain(`${row.exposure} ${row.level} ${row.off} ${row.steady}`))).toEqual([
      '0.5 s 460 ADU -8.0 % false',
      '1 s 1000 ADU 0.0 % true',
      '2 s 2000 ADU 0.0 % true',
    ])
  })
})

test('what was found is held against the rules, and may become one with its reason', () => {
  expect(plain(againstRules(0.5, 3).text)).toBe(
    'The rules of this camera ask for 3 s: by these frames, 0.5 s would do.',
  )
  expect(plain(againstRules(5, 3).text)).toBe('The rules of this camera allow 3 s: by these frames, that is too short.')
  expect(againstRules(3, 3).same).toBe(true)
  expect(againstRules(0.5, 0).text).toContain('set no floor')
  expect(plain(floorReason(0.5, { night, settings: 'Heron 11C, gain 100' }))).toBe(
    'Measured on 20 November 2026 with Heron 11C, gain 100: steady from 0.5 s on.',
  )
})
