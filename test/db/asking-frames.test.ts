import { randomBytes } from 'node:crypto'
import { expect, test } from 'vitest'
import { askingFrames, nightSizes } from '../../db/tables/asking-frames.ts'
import { insertFrame } from '../../db/tables/frames.ts'
import type { FrameFacts } from '../../main/frame/facts.ts'
import { freshDatabase, someFacts } from './fresh.ts'

test('lights of a night that ask the same are one row, apart where the train was changed between them', () => {
  const db = freshDatabase()
  const add = (change: Partial<FrameFacts>) =>
    insertFrame(
      db,
      { facts: someFacts(change), fingerprint: randomBytes(32), size: 1, problem: null },
      '2026-11-20T23:00:00.000Z',
    )
  const at = (time: string) => `2026-11-20T${time}:00.000Z`
  const first = add({ startedAt: at('20:00'), sensorTempC: -9.8 })
  add({ startedAt: at('20:10'), sensorTempC: -10 })
  const later = add({ startedAt: at('22:00'), sensorTempC: -10.5 })
  add({ startedAt: at('22:10'), sensorTempC: -10.4, mechAngleDeg: null })
  add({ startedAt: at('22:20'), kind: 'flat', exposureS: 3, sensorTempC: null })
  add({ startedAt: at('22:30'), aside: true })
  add({ startedAt: at('22:40'), state: 'broken' })
  add({ startedAt: at('22:50'), kind: 'dark' })
  add({ night: '2026-11-21', startedAt: '2026-11-21T20:00:00.000Z' })
  const night = '2026-11-20'
  const found = (changes: string[]) =>
    askingFrames(db, night, night, changes)
      .map(({ kind, id, frames, totalS, tempC }) => ({ kind, id, frames, totalS, tempC }))
      .sort((a, b) => a.id - b.id)
  const flat = { kind: 'flat', id: 5, frames: 1, totalS: 3, tempC: null }
  // The median of four: half way between the two in the middle, −10 and −10.4.
  expect(found([])).toEqual([{ kind: 'light', id: first, frames: 4, totalS: 1200, tempC: -10.2 }, flat])
  expect(found([at('21:00')])).toEqual([
    { kind: 'light', id: first, frames: 2, totalS: 600, tempC: -9.9 },
    { kind: 'light', id: later, frames: 2, totalS: 600, tempC: -10.45 },
    flat,
  ])
  // By name of the index, so that a log of a million frames is not read whole for its nights.
  expect(nightSizes(db)).toEqual([
    { night: '2026-11-21', frames: 1 },
    { night, frames: 8 },
  ])
})
