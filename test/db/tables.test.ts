import { randomBytes } from 'node:crypto'
import { expect, test } from 'vitest'
import { immediately } from '../../db/handle.ts'
import { cardsOf, putCards } from '../../db/tables/cards.ts'
import { countFilesBelow, fileAt, filesBelow, putFile } from '../../db/tables/files.ts'
import { allFolders, putFolder, stopWatching } from '../../db/tables/folders.ts'
import {
  amendFrame,
  frameById,
  framesOfNight,
  groupTempC,
  insertFrame,
  newestNight,
  nightSumsBefore,
  numberInNight,
  setFrameState,
  unmeasuredOfNight,
} from '../../db/tables/frames.ts'
import { putMeasured } from '../../db/tables/frame-figures.ts'
import { acknowledgeNotice, closeNotice, openNotices, putNotice } from '../../db/tables/notices.ts'
import { logTrainChange, trainChanges, undoTrainChange } from '../../db/tables/train-changes.ts'
import type { FrameFacts } from '../../main/frame/facts.ts'
import { freshDatabase, someFacts } from './fresh.ts'

const at = '2026-11-20T21:05:00.000Z'
const newFrame = (change: Partial<FrameFacts> = {}) => ({
  facts: someFacts(change),
  fingerprint: randomBytes(32),
  size: 1000,
  problem: null,
})

test('a frame comes back as it went in: numbers, labels, flags, conflicts and what is unknown', () => {
  const db = freshDatabase()
  const facts = someFacts({
    gain: 'HI',
    readout: 3,
    offset: null,
    aside: true,
    asideWhy: 'focus',
    integrated: true,
    conflicts: [{ setting: 'gain', found: [{ keyword: 'GAIN', value: 1.9 }], text: 'Two meanings.' }],
  })
  const id = insertFrame(db, { facts, fingerprint: randomBytes(32), size: 1000, problem: null }, at)
  expect(frameById(db, id)).toEqual({ id, ...facts, figures: null })
})

test('every number of a header survives: binary fractions, zero, and a gain of 100 that stays a number', () => {
  const db = freshDatabase()
  const id = insertFrame(db, newFrame({ sensorTempC: -18.9, exposureS: 0.1 + 0.2, gain: 100, offset: 0 }), at)
  expect(frameById(db, id)).toMatchObject({ sensorTempC: -18.9, exposureS: 0.1 + 0.2, gain: 100, offset: 0 })
})

test('amending keeps the id, takes the new facts, and sends the frame back to be measured', () => {
  const db = freshDatabase()
  const id = insertFrame(db, newFrame(), at)
  putMeasured(db, id, { sha256: randomBytes(32), figures: null, problem: null })
  amendFrame(db, id, newFrame({ exposureS: 60 }), at)
  expect(frameById(db, id)?.exposureS).toBe(60)
  expect(unmeasuredOfNight(db, '2026-11-20')).toBe(1)
})

test('the same fingerprint is never logged twice', () => {
  const db = freshDatabase()
  const frame = newFrame()
  insertFrame(db, frame, at)
  expect(() => insertFrame(db, frame, at)).toThrow(/UNIQUE/)
})

test('a transaction that fails leaves nothing behind, not even in memory', () => {
  const db = freshDatabase()
  expect(() =>
    immediately(db, () => {
      const id = insertFrame(db, newFrame({ camera: 'Never seen' }), at)
      putCards(db, id, Buffer.from('SIMPLE  =                    T'.padEnd(2880)))
      throw new Error('the disk is full')
    }),
  ).toThrow('the disk is full')
  // Keys and patterns of the failed transaction were forgotten with it: the same ones work now.
  const id = insertFrame(db, newFrame({ camera: 'Never seen' }), at)
  putCards(db, id, Buffer.from('SIMPLE  =                    T'.padEnd(2880)))
  expect(cardsOf(db, id)?.toString().trimEnd()).toBe('SIMPLE  =                    T')
  expect(db.pragma('foreign_key_check')).toEqual([])
})

test('every card of every header comes back byte for byte, at a tenth of its size or less within a night', () => {
  const db = freshDatabase()
  const header = (i: number) =>
    Buffer.from(
      Array.from({ length: 70 }, (_, k) =>
        `KEY${k}`
          .padEnd(8)
          .concat(`= ${(k % 9 === 0 ? i * 1.37 + k : k * 3).toFixed(5).padStart(20)} / number ${k}`)
          .padEnd(80),
      )
        .join('')
        .padEnd(5760),
    )
  const ids = Array.from({ length: 50 }, (_, i) => {
    const id = insertFrame(db, newFrame(), at)
    putCards(db, id, header(i))
    return id
  })
  for (const [i, id] of ids.entries()) expect(cardsOf(db, id)?.equals(header(i))).toBe(true)
  const stored = db.prepare('SELECT sum(length(delta)) FROM cards').pluck().get() as number
  expect(stored).toBeLessThan((50 * 5760) / 10)
  expect(cardsOf(db, 999_999)).toBeUndefined()
})

test('headers of two sorts that take turns need two patterns, not one each time', () => {
  const db = freshDatabase()
  const noise = [randomBytes(5760).toString('latin1'), randomBytes(5760).toString('latin1')]
  for (let i = 0; i < 20; i++) {
    const id = insertFrame(db, newFrame(), at)
    putCards(db, id, Buffer.from(noise[i % 2], 'latin1'))
    expect(cardsOf(db, id)?.toString('latin1')).toBe(noise[i % 2])
  }
  expect(db.prepare('SELECT count(*) FROM header_patterns').pluck().get()).toBe(2)
})

test('files below a folder are those below it, and not those of a folder whose name begins alike', () => {
  const db = freshDatabase()
  const id = insertFrame(db, newFrame(), at)
  const stat = { frameId: id, size: 1, modifiedMs: 1, changedMs: 1, inode: 1 }
  for (const path of ['/a/b.fits', '/a/c/d.fits', '/a.fits', '/a0/b.fits', '/a-b/c.fits'])
    putFile(db, { path, ...stat }, at)
  expect(filesBelow(db, '/a', '/').map((file) => file.path)).toEqual(['/a/b.fits', '/a/c/d.fits'])
  expect(filesBelow(db, '/', '/')).toHaveLength(5)
  expect(countFilesBelow(db, '/a', '/')).toBe(1)
  expect(fileAt(db, '/a.fits')?.frameId).toBe(id)
})

test('a night is summed without its frames set aside, and nights come newest first', () => {
  const db = freshDatabase()
  insertFrame(db, newFrame({ exposureS: 300 }), at)
  insertFrame(db, newFrame({ exposureS: 60 }), at)
  insertFrame(db, newFrame({ exposureS: 5, aside: true }), at)
  insertFrame(db, newFrame({ kind: 'dark', night: '2026-11-21' }), at)
  expect(nightSumsBefore(db, '~', -1)).toEqual([
    { night: '2026-11-21', lights: 0, lightS: 0, frames: 1 },
    { night: '2026-11-20', lights: 2, lightS: 360, frames: 3 },
  ])
  expect(newestNight(db)).toBe('2026-11-21')
  expect(framesOfNight(db, '2026-11-20')).toHaveLength(3)
})

test('a frame is numbered among its kind on its rig, and knows the median temperature of its run', () => {
  const db = freshDatabase()
  const add = (change: Partial<FrameFacts>) => frameById(db, insertFrame(db, newFrame(change), at))!
  add({ startedAt: '2026-11-20T20:00:00.000Z', sensorTempC: -10 })
  const gone = add({ startedAt: '2026-11-20T20:10:00.000Z', sensorTempC: 20 })
  setFrameState(db, gone.id, 'gone', null)
  add({ startedAt: '2026-11-20T20:20:00.000Z', sensorTempC: -9 })
  add({ startedAt: '2026-11-20T20:25:00.000Z', kind: 'flat' })
  const last = add({ startedAt: '2026-11-20T20:30:00.000Z', sensorTempC: -9.5 })
  expect(numberInNight(db, last)).toBe(3)
  expect(groupTempC(db, last)).toBe(-9.5)
})

test('a notice that closed opens anew with nobody having seen it; one that is open stays acknowledged', () => {
  const db = freshDatabase()
  const notice = { id: 'no-flat-1', severity: 'beforeTeardown' as const, openedAt: at, acknowledged: false }
  putNotice(db, '2026-11-20', notice, at)
  expect(acknowledgeNotice(db, 'no-flat-1', at)).toBe(true)
  expect(openNotices(db, '2026-11-20')).toEqual([{ ...notice, acknowledged: true }])
  closeNotice(db, '2026-11-20', 'no-flat-1', at)
  expect(openNotices(db, '2026-11-20')).toEqual([])
  expect(acknowledgeNotice(db, 'no-flat-1', at)).toBe(false)
  putNotice(db, '2026-11-20', notice, at)
  expect(openNotices(db, '2026-11-20')[0].acknowledged).toBe(false)
})

test('a train change can be taken back once, and stays in the log', () => {
  const db = freshDatabase()
  const change = { rig: 'North', scope: 'filter' as const, filter: 'Ha', at, text: 'cleaned', closes: false }
  const id = logTrainChange(db, change, at)
  expect(undoTrainChange(db, id, at)).toBe(true)
  expect(undoTrainChange(db, id, at)).toBe(false)
  expect(trainChanges(db)).toEqual([{ id, ...change, undoneAt: at }])
})

test('a folder that is logged after it was watched is still watched', () => {
  const db = freshDatabase()
  const id = putFolder(db, '/capture', true, at)
  expect(putFolder(db, '/capture', false, at)).toBe(id)
  expect(allFolders(db)).toEqual([{ id, path: '/capture', watched: true, polling: null }])
  expect(stopWatching(db, id)).toBe(true)
  expect(allFolders(db)[0].watched).toBe(false)
})
