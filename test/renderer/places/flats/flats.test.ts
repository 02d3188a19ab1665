import { describe, expect, test } from 'vitest'
import type { Master, Shortfall, TrainChange } from '../../../../main/contract/index.ts'
import { plain } from '../../../../renderer/parts/format.ts'
import { channelsText, litText, sortPoints, sourceOptions } from '../../../../renderer/places/flats/now.ts'
import { darkFlatsFor, flatRows, touchedSince } from '../../../../renderer/places/flats/rows.ts'
import { flatAnswer, typedMoment } from '../../../../renderer/places/flats/words.ts'
import { master, run } from '../../support/night.ts'

const flat: Master = {
  ...master,
  id: 6,
  kind: 'flat',
  filter: 'dual-band',
  madeAt: '2026-11-02T06:00:00Z',
  ageDays: 18,
}
const change = (more: Partial<TrainChange>): TrainChange => ({
  id: 1,
  rig: 'Hill pier',
  scope: 'train',
  filter: null,
  at: '2026-11-10T12:00:00Z',
  text: 'reducer cleaned',
  closes: false,
  undoneAt: null,
  ...more,
})

describe('what touched a flat', () => {
  const touched = (changes: TrainChange[], of = flat) => touchedSince(of, 'Hill pier', changes)?.id ?? null
  test.each([
    ['a change of its train after it', change({}), 1],
    ['one before it', change({ at: '2026-11-01T12:00:00Z' }), null],
    ['one that was taken back', change({ undoneAt: '2026-11-11T00:00:00Z' }), null],
    ['one of another rig', change({ rig: 'Roof' }), null],
    ['its own filter', change({ scope: 'filter', filter: 'dual-band' }), 1],
    ['another filter', change({ scope: 'filter', filter: 'luminance' }), null],
    ['the camera', change({ scope: 'camera' }), 1],
  ])('%s', (_, one, id) => {
    expect(touched([one])).toBe(id)
  })

  test('proven after the change, it holds', () => {
    expect(touched([change({})], { ...flat, provenAt: '2026-11-12T20:00:00Z' })).toBe(null)
  })

  test('the newest change is the one that is named', () => {
    expect(touched([change({}), change({ id: 2, at: '2026-11-15T12:00:00Z' })])).toBe(2)
  })
})

describe('the rows', () => {
  const raw = run('r', { kind: 'flat', filter: 'luminance', frames: 12 })
  test('are one a rig and filter, with raw flats of the newest night where no master is', () => {
    const rows = flatRows([flat, { ...flat, id: 4, madeAt: '2026-10-01T06:00:00Z' }], [], [raw], [])
    expect(rows.map(({ filter, flat: own, older, runs }) => [filter, own?.id ?? null, older, runs.length])).toEqual([
      ['dual-band', 6, 1, 0],
      ['luminance', null, 0, 1],
    ])
  })

  test('are of one binning each, and lights that lack theirs have one where no flat is', () => {
    const of = { rig: raw.rig, train: raw.train, telescope: raw.telescope, filter: 'luminance' }
    const binned = { ...flat, ...of, binning: '2x2' }
    const due = { ...run('l', { ...of, frames: 20, binning: '1x1' }), id: 'l' }
    due.verdicts = { flat: { ...due.verdicts.flat!, verdict: 'due', text: 'none yet', counts: { due: 20 } } }
    const rows = flatRows([binned], [], [], [], [due, { ...due, id: 'm', frames: 5 }])
    expect(
      rows.map(({ binning, flat: own, lights }) => [binning, own?.id ?? null, lights.map((l) => l.frames)]),
    ).toEqual([
      ['1x1', null, [25]],
      ['2x2', 6, []],
    ])
    expect(flatAnswer(rows[0]!, 30, 0).text).toBe('None on the shelf yet; none was shot in the newest night.')
  })

  test('name the dark flats that a run waits for, by its exposure and settings', () => {
    const shot = run('s', { kind: 'flat', exposureS: 3, gain: 100, offset: 30, setTempC: -10 })
    const { exposureS, gain, offset, setTempC } = shot
    const row = (settings: object) =>
      ({ kind: 'darkFlat', settings: { exposureS, gain, offset, setTempC, ...settings } }) as Shortfall
    const [own, longer, other] = [row({}), row({ exposureS: 4 }), row({ gain: 0 })]
    expect(darkFlatsFor(shot, [longer, other, own])).toBe(own)
    expect(darkFlatsFor(shot, [longer, other])).toBeNull()
    expect(darkFlatsFor(shot, [{ ...own, kind: 'flat' }])).toBeNull()
  })

  test('say how a flat stands', () => {
    const now = Date.parse('2026-11-20T12:00:00Z')
    const [row] = flatRows([flat], [], [], [])
    expect(flatAnswer(row!, 30, now).standing).toBe('holds')
    expect(flatAnswer(row!, 10, now).standing).toBe('aging')
    expect(flatAnswer({ ...row!, flat: { ...flat, provenAt: '2026-11-18T12:00:00Z' } }, 10, now).standing).toBe('holds')
    expect(flatAnswer(flatRows([flat], [change({})], [], [])[0]!, 30, now).standing).toBe('touched')
    const refuted = { ...flat, refutedAt: '2026-11-19T05:00:00Z' }
    expect(flatAnswer({ ...row!, flat: refuted }, 30, now)).toMatchObject({ standing: 'refuted' })
    expect(flatAnswer({ ...row!, flat: { ...flat, state: 'damaged' } }, 30, now).standing).toBe('damaged')
    expect(plain(flatAnswer(flatRows([], [], [raw], [])[0]!, 30, now).text)).toBe(
      'None on the shelf yet; 12 raw flats of the newest night.',
    )
  })

  test('leave retired flats out', () => {
    expect(flatRows([{ ...flat, state: 'retired' }], [], [], [])).toEqual([])
  })
})

describe('flats being shot', () => {
  const point = (what: 'level' | 'floor' | 'balance', right: boolean) => ({ what, right, text: what, todo: null })

  test('the level stands first, then what is to be done, then what is right', () => {
    const { level, rest } = sortPoints([point('floor', true), point('level', true), point('balance', false)])
    expect([level?.what, ...rest.map(({ what }) => what)]).toEqual(['level', 'balance', 'floor'])
  })

  test('each channel is told as a part of the target, and nothing of mono', () => {
    const channels = [{ channel: 'R' as const, adu: 15_000, ofTarget: 0.62 }]
    expect(plain(channelsText(channels)!)).toBe('Of the target: red 62 %.')
    expect(channelsText([])).toBe(null)
  })

  test('what lit a flat is said with its balance; the last answer of the rig is marked, not chosen', () => {
    const balance = { R: 0.62, G: 1, B: 0.8 }
    const figures = { flat: { balance } } as Master['figures']
    expect(litText({ lightSource: 'sky', figures })).toBe('Lit by the sky. Balance against green: red 0.62, blue 0.80.')
    expect(litText({ figures: null })).toBe(null)
    expect(sourceOptions('panel').map(({ label }) => label)).toEqual([
      'a panel, as last time',
      'the sky',
      'a screen',
      'something else',
    ])
  })
})

test('a moment is typed in local time; nothing typed means now, nonsense is pointed out', () => {
  expect(typedMoment('2026-11-20 19:40')).toBe(new Date(2026, 10, 20, 19, 40).toISOString())
  expect(typedMoment(' ')).toBe(null)
  expect(typedMoment('yesterday')).toBe(undefined)
  expect(typedMoment('2026-13-40 19:40')).toBe(undefined)
})
