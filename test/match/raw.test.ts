import { describe, expect, it } from 'vitest'
import { summariseRaw } from '../../main/match/raw.ts'
import { aChange, aFlat, aFrame, aLight, aMaster } from './samples.ts'

const darks = (count: number, changes = {}) =>
  Array.from({ length: count }, (_, i) =>
    aFrame({
      kind: 'dark',
      id: 100 + i,
      startedAt: new Date(Date.parse('2026-11-20T23:00:00Z') + i * 303_000).toISOString(),
      ...changes,
    }),
  )

describe('raw calibration frames that wait to be built', () => {
  it('are counted by run, with the median temperature', () => {
    const frames = darks(5).map((f, i) => ({ ...f, sensorTempC: -10 + 0.1 * (i % 2) }))
    const [group, ...others] = summariseRaw(frames, [], [])
    expect(others).toEqual([])
    expect(group).toMatchObject({
      kind: 'dark',
      count: 5,
      sensorTempC: -10,
      exposureS: 300,
      firstAt: '2026-11-20T23:00:00.000Z',
    })
  })

  it.each([
    ['lights', aLight()],
    ['frames set aside', darks(1, { aside: true })[0]],
    ['broken frames', darks(1, { state: 'broken' })[0]],
    ['masters', darks(1, { combined: 30 })[0]],
  ])('are not %s', (_, frame) => expect(summariseRaw([frame], [], [])).toEqual([]))

  it('are not those that a master has taken in, unless it is damaged', () => {
    const frames = darks(3)
    const sources = frames.map((f) => f.path)
    expect(summariseRaw(frames, [aMaster({ sources })], [])).toEqual([])
    expect(summariseRaw(frames, [aMaster({ sources, state: 'retired' })], [])).toEqual([])
    expect(summariseRaw(frames, [aMaster({ sources, state: 'damaged' })], [])).toHaveLength(1)
  })

  it('are told apart by epoch where the train was changed between flats of one night', () => {
    const flats = ['18:00', '18:01', '20:00'].map((t, i) => aFlat({ id: i + 1, startedAt: `2026-11-20T${t}:00.000Z` }))
    const change = aChange({ at: '2026-11-20T19:00:00Z' })
    expect(
      summariseRaw(flats, [], [change])
        .map((g) => g.count)
        .sort(),
    ).toEqual([1, 2])
    expect(summariseRaw(flats, [], [{ ...change, undoneAt: '2026-11-20T19:01:00Z' }]).map((g) => g.count)).toEqual([3])
  })
})
