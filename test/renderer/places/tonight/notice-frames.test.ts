import { expect, test } from 'vitest'
import { noticeRuns, withRigs } from '../../../../renderer/places/tonight/notice-frames.ts'
import { plain } from '../../../../renderer/parts/format.ts'
import { notices, run } from '../../support/night.ts'

const first = run('a', {
  target: 'Heart 1',
  frameIds: [11, 12, 13],
  firstAt: '2026-11-20T22:00:00Z',
  startsS: [0, 305, null],
})
const second = run('b', { target: 'Veil 2', frameIds: [21], firstAt: '2026-11-20T23:00:00Z', startsS: [0] })

test('the frames of a notice stand under their runs, each with the time at which it began', () => {
  const found = noticeRuns({ frameIds: [21, 13, 12] }, [first, second])
  expect(found.map(({ run, frames }) => [run?.target, frames])).toEqual([
    [
      'Heart 1',
      [
        { id: 12, at: '2026-11-20T22:05:05.000Z' },
        { id: 13, at: null },
      ],
    ],
    ['Veil 2', [{ id: 21, at: '2026-11-20T23:00:00.000Z' }]],
  ])
  expect(plain(found[0]!.settings)).toBe('gain 120 · offset 30 · -10 °C (measured -9.9 °C)')
})

test('a frame of no run that is known is not left out', () => {
  expect(
    noticeRuns({ frameIds: [99, 11] }, [first]).map(({ run, frames }) => [run?.id ?? null, frames[0]!.id]),
  ).toEqual([
    ['a', 11],
    [null, 99],
  ])
})

test('where a night has several rigs each notice says whose it is, unless it does so itself or is of both', () => {
  const roof = { ...second, rig: 'Roof' }
  const about = (text: string, ...frameIds: number[]) => ({ ...notices[0]!, text, frameIds })
  const told = [about('No flat yet', 21), about('Roof has no flat', 21), about('The dark is old', 11, 21)]
  const texts = (runs: Parameters<typeof withRigs>[0]['runs']) =>
    withRigs({ notices: told, runs }).map(({ text }) => text)
  expect(texts([first, roof])).toEqual(['No flat yet (Roof)', 'Roof has no flat', 'The dark is old'])
  expect(texts([first, second])).toEqual(['No flat yet', 'Roof has no flat', 'The dark is old'])
})
