import { describe, expect, it } from 'vitest'
import type { Frame } from '../../main/contract/index.ts'
import { suggestChanges } from '../../main/match/suggestions.ts'
import { aChange, aLight } from './samples.ts'

/** Ten lights, five before and five after; the second five as said. */
const series = (before: Partial<Frame>, after: Partial<Frame> | ((i: number) => Partial<Frame>)) =>
  Array.from({ length: 10 }, (_, i) =>
    aLight({
      id: i + 1,
      startedAt: new Date(Date.parse('2026-11-20T20:00:00Z') + i * 303_000).toISOString(),
      ...(i < 5 ? before : typeof after === 'function' ? after(i) : after),
    }),
  )

describe('a train change', () => {
  it.each([
    ['another telescope', {}, { telescope: 'Newt 200' }, 'telescope', 'train'],
    ['a reducer', {}, { focalMm: 384 }, 'focalMm', 'train'],
    ['another camera body', { body: 'A' }, { body: 'B' }, 'body', 'camera'],
    ['a camera turned by hand', { skyAngleDeg: 12 }, { skyAngleDeg: 40 }, 'skyAngleDeg', 'train'],
    ['a camera turned by hand, over 180°', { skyAngleDeg: 178 }, { skyAngleDeg: 4 }, 'skyAngleDeg', 'train'],
    [
      'a camera turned in its rotator',
      { skyAngleDeg: 12, mechAngleDeg: 30 },
      { skyAngleDeg: 40, mechAngleDeg: 30 },
      'skyAngleDeg',
      'train',
    ],
  ])('is suggested for %s', (_, before, after, field, scope) => {
    const frames = series(before, after)
    const hints = suggestChanges(frames, [])
    expect(hints).toHaveLength(1)
    expect(hints[0]).toMatchObject({ rig: 'Fell End', field, scope, at: frames[5].startedAt })
  })

  it.each([
    ['nothing', {}, {}],
    ["the mount's flip", { skyAngleDeg: 12 }, { skyAngleDeg: 192 }],
    ['an alt-azimuth sky', { skyAngleDeg: 12 }, (i: number) => ({ skyAngleDeg: 12 + 2 * i })],
    ['a rotator that turned', { skyAngleDeg: 12, mechAngleDeg: 30 }, { skyAngleDeg: 57, mechAngleDeg: 75 }],
    [
      'a rotator that counts the other way',
      { skyAngleDeg: 12, mechAngleDeg: 30 },
      { skyAngleDeg: 57, mechAngleDeg: 345 },
    ],
    ['a rotator and a flip', { skyAngleDeg: 12, mechAngleDeg: 30 }, { skyAngleDeg: 237, mechAngleDeg: 75 }],
    ['a parked mount that writes no TELESCOP', {}, { telescope: null, focalMm: 0 }],
    ['a focal length as solved', {}, { focalMm: 477.6 }],
    ['another filter', {}, { filter: 'L' }],
  ])('is not suggested for %s', (_, before, after) => expect(suggestChanges(series(before, after), [])).toEqual([]))

  it('is not suggested where it was logged', () => {
    const frames = series({}, { telescope: 'Newt 200' })
    const logged = aChange({ at: '2026-11-20T20:23:00Z' })
    expect(suggestChanges(frames, [logged])).toEqual([])
    expect(suggestChanges(frames, [{ ...logged, undoneAt: '2026-11-20T20:24:00Z' }])).toHaveLength(1)
    expect(suggestChanges(frames, [{ ...logged, rig: 'Roof' }])).toHaveLength(1)
  })

  it('is not suggested by weeks of cloud', () => {
    const later = series({}, {}).map((f) => ({
      ...f,
      id: f.id + 50,
      startedAt: f.startedAt!.replace('2026-11', '2026-12'),
    }))
    expect(suggestChanges([...series({}, {}), ...later], [])).toEqual([])
  })

  it('does not depend on the order of the frames', () => {
    const frames = series({ skyAngleDeg: 12 }, { skyAngleDeg: 40 })
    expect(suggestChanges([...frames].reverse(), [])).toEqual(suggestChanges(frames, []))
  })
})
