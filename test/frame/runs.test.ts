import { describe, expect, test } from 'vitest'
import fc from 'fast-check'
import { groupRuns, runsOfNight, type RunFrame } from '../../main/frame/runs.ts'
import { describeCards, type Value } from './facts.ts'

let nextId = 1
function frame(stamp: string, cards: Record<string, Value> = {}, name = ''): RunFrame {
  const id = nextId++
  const all = {
    IMAGETYP: 'Light',
    OBJECT: 'M 31',
    FILTER: 'Ha',
    EXPTIME: 300,
    GAIN: 100,
    'SET-TEMP': -10,
    'CCD-TEMP': -10,
  }
  const path = `/nights/rig/${name || `frame_${String(id).padStart(4, '0')}`}.fits`
  return { id, ...describeCards({ ...all, ...cards, 'DATE-OBS': stamp }, { path }) }
}
const evening = (minute: number) =>
  new Date(Date.parse('2026-11-20T20:00:00Z') + minute * 60_000).toISOString().slice(0, -1)

describe('the runs of a night', () => {
  test('filters that take turns are two runs, not one for each change', () => {
    const frames = [0, 1, 2, 3, 4, 5].map((i) => frame(evening(i * 6), { FILTER: i % 2 ? 'OIII' : 'Ha' }))
    const runs = groupRuns(frames)
    expect(runs.map((run) => [run.filter, run.frames, run.totalS])).toEqual([
      ['Ha', 3, 900],
      ['OIII', 3, 900],
    ])
    expect(runs[0]).toMatchObject({ kind: 'light', target: 'M 31', night: '2026-11-20', exposureS: 300, aside: false })
    expect(runs[0].firstAt).toBe('2026-11-20T20:00:00.000Z')
    expect(runs[0].lastAt).toBe('2026-11-20T20:24:00.000Z')
    expect(runs[0].frameIds).toEqual([frames[0].id, frames[2].id, frames[4].id])
    expect(runs[0].startsS).toEqual([0, 720, 1440])
  })

  test.each([
    ['gain', { GAIN: 101 }],
    ['offset', { OFFSET: 50 }],
    ['set temperature', { 'SET-TEMP': -15 }],
    ['exposure', { EXPTIME: 301 }],
    ['target', { OBJECT: 'M 33' }],
    ['binning', { XBINNING: 2, YBINNING: 2 }],
    ['readout mode', { READOUTM: 2 }],
    ['kind', { IMAGETYP: 'Flat' }],
    ['mechanical angle beyond 1°', { ROTATANG: 12 }],
  ])('another %s is another run', (_what, cards) => {
    expect(groupRuns([frame(evening(0)), frame(evening(6), cards)])).toHaveLength(2)
  })

  test.each([
    ['a driver’s jitter of the exposure', { EXPTIME: 300.0042 }],
    ['a sensor that wanders about its set point', { 'CCD-TEMP': -8.8 }],
    ['a flip of the mount', { OBJCTROT: 181 }],
    ['the spelling of the target', { OBJECT: 'm  31' }],
  ])('%s splits no run', (_what, cards) => {
    expect(groupRuns([frame(evening(0), { OBJCTROT: 1 }), frame(evening(6), { OBJCTROT: 1, ...cards })])).toHaveLength(
      1,
    )
  })

  test('the sensor temperature of a run is the median, other settings are those that all share', () => {
    const temps = [-10.1, -9.9, -4]
    const [run] = groupRuns(temps.map((t, i) => frame(evening(i), { 'CCD-TEMP': t, FOCALLEN: 478 + i })))
    expect(run).toMatchObject({ sensorTempC: -9.9, setTempC: -10, focalMm: null, gain: 100 })
  })

  test('without set points, frames at two temperatures are two runs', () => {
    const temps = [-10, -10.2, -19.9, -20]
    const runs = groupRuns(
      temps.map((t, i) => frame(evening(i), { 'CCD-TEMP': t, 'SET-TEMP': null, IMAGETYP: 'Dark' })),
    )
    expect(runs.map((run) => run.sensorTempC).sort()).toEqual([-10.1, -19.95])
  })

  test('filter, target and angle make no difference to darks', () => {
    const runs = groupRuns([
      frame(evening(0), { IMAGETYP: 'Dark', FILTER: 'Ha', OBJECT: 'M 31', ROTATANG: 3 }),
      frame(evening(6), { IMAGETYP: 'Dark', FILTER: 'OIII', OBJECT: 'M 33', ROTATANG: 90 }),
    ])
    expect(runs).toMatchObject([{ kind: 'dark', frames: 2, filter: null, target: null }])
  })

  test('frames set aside make runs of their own', () => {
    const runs = groupRuns([frame(evening(0)), frame(evening(1), {}, 'focus_01')])
    expect(runs.map((run) => run.aside)).toEqual([false, true])
  })

  test('angles on both sides of 0° are one run', () => {
    expect(groupRuns([frame(evening(0), { ROTATANG: 359.8 }), frame(evening(6), { ROTATANG: 0.3 })])).toHaveLength(1)
  })

  test('frames without a start come last and count', () => {
    const [run] = groupRuns([frame(evening(0)), { ...frame(evening(1)), startedAt: null }])
    expect(run).toMatchObject({ frames: 2, lastAt: '2026-11-20T20:00:00.000Z', totalS: 600 })
  })
})

describe('noon', () => {
  const dark = (stamp: string) => frame(stamp, { IMAGETYP: 'Dark', FILTER: null, OBJECT: null })
  const overNoon = [
    '2026-11-21T11:45:00',
    '2026-11-21T11:51:00',
    '2026-11-21T11:57:00',
    '2026-11-21T12:03:00',
    '2026-11-21T12:09:00',
  ]

  test('a dark run that crosses noon is one run, of the night in which it began', () => {
    const frames = overNoon.map(dark)
    expect(new Set(frames.map((f) => f.night)).size).toBe(2)
    expect(groupRuns(frames)).toMatchObject([{ night: '2026-11-20', frames: 5 }])
    expect(runsOfNight(frames, '2026-11-21')).toEqual([])
    expect(runsOfNight(frames, '2026-11-20')).toHaveLength(1)
  })

  test('darks of the next evening are another run', () => {
    const runs = groupRuns([...overNoon, '2026-11-21T20:00:00', '2026-11-21T20:06:00'].map(dark))
    expect(runs.map((run) => [run.night, run.frames])).toEqual([
      ['2026-11-20', 5],
      ['2026-11-21', 2],
    ])
  })

  test('lights and flats begin a new night at noon', () => {
    expect(groupRuns(overNoon.map((stamp) => frame(stamp)))).toHaveLength(2)
  })
})

describe('ids', () => {
  test('stay when frames come in, and differ between runs', () => {
    const frames = Array.from({ length: 12 }, (_, i) => frame(evening(i * 6), { FILTER: ['L', 'Ha', 'OIII'][i % 3] }))
    const early = groupRuns(frames.slice(0, 6)).map((run) => run.id)
    const late = groupRuns(frames).map((run) => run.id)
    expect(late).toEqual(early)
    expect(new Set(late).size).toBe(3)
  })

  test('property: the order of the frames never changes the runs, and every frame is in exactly one', () => {
    const some = fc.array(
      fc.record({
        minute: fc.integer({ min: 0, max: 2000 }),
        kind: fc.constantFrom('Light', 'Dark', 'Flat', 'DarkFlat'),
        exposure: fc.constantFrom(1, 1.004, 1.02, 300, 300.1, 300.2, null),
        temp: fc.constantFrom(-10, -10.4, -12, null),
        set: fc.constantFrom(-10, null),
        angle: fc.constantFrom(0, 0.6, 1.4, 359.5, null),
      }),
      { maxLength: 30 },
    )
    fc.assert(
      fc.property(some, fc.infiniteStream(fc.nat()), (list, dice) => {
        const frames = list.map(({ minute, kind, exposure, temp, set, angle }) =>
          frame(evening(minute), {
            IMAGETYP: kind,
            EXPTIME: exposure,
            'CCD-TEMP': temp,
            'SET-TEMP': set,
            ROTATANG: angle,
          }),
        )
        const shuffled = frames
          .map((f) => ({ f, at: dice.next().value as number }))
          .sort((a, b) => a.at - b.at)
          .map(({ f }) => f)
        const runs = groupRuns(frames)
        expect(groupRuns(shuffled)).toEqual(runs)
        expect(runs.flatMap((run) => run.frameIds).sort((a, b) => a - b)).toEqual(frames.map((f) => f.id))
        expect(new Set(runs.map((run) => run.id)).size).toBe(runs.length)
      }),
      { numRuns: 200 },
    )
  })
})
