import { randomBytes } from 'node:crypto'
import { closeSync, existsSync, mkdirSync, openSync, readdirSync, statSync, writeFileSync, writeSync } from 'node:fs'
import { join } from 'node:path'
import { expect, test } from 'vitest'
import { backUp, checkCopy, KEPT, listBackups } from '../../db/backup.ts'
import { immediately } from '../../db/handle.ts'
import { openDatabase } from '../../db/open.ts'
import { countFrames, frameById, insertFrame } from '../../db/tables/frames.ts'
import { freshDatabase, freshFolder, someFacts } from './fresh.ts'

const at = '2026-11-20T21:05:00.000Z'
const add = (db: ReturnType<typeof freshDatabase>) =>
  insertFrame(db, { facts: someFacts(), fingerprint: randomBytes(32), size: 1, problem: null }, at)
const addMany = (db: ReturnType<typeof freshDatabase>, n: number) =>
  immediately(db, () => Array.from({ length: n }, () => add(db)))
const day = (n: number) => new Date(Date.UTC(2026, 10, n, 6))

test('a copy opens as a database of its own, with every row', async () => {
  const db = freshDatabase()
  const ids = addMany(db, 200)
  const folder = join(freshFolder(), 'backups')
  const path = await backUp(db, folder, day(20))
  const restored = openDatabase(path)
  expect(countFrames(restored)).toBe(200)
  expect(frameById(restored, ids[7])).toEqual(frameById(db, ids[7]))
  expect(restored.pragma('integrity_check', { simple: true })).toBe('ok')
  restored.close()
})

test('seven copies are kept, the newest ones', async () => {
  const db = freshDatabase()
  const folder = freshFolder()
  for (let n = 1; n <= KEPT + 3; n++) await backUp(db, folder, day(n))
  const names = listBackups(folder).map((path) => path.slice(folder.length + 1))
  expect(names).toHaveLength(KEPT)
  expect(names[0]).toBe('nightshelf-20261104T060000Z.db')
  expect(names.at(-1)).toBe('nightshelf-20261110T060000Z.db')
})

test('frames that land while the copy is made do not hold it up and are not lost', async () => {
  const db = freshDatabase()
  addMany(db, 500)
  const copying = backUp(db, freshFolder(), day(20))
  for (let i = 0; i < 10; i++) {
    addMany(db, 10)
    await new Promise(setImmediate)
  }
  const copy = openDatabase(await copying)
  expect(countFrames(db)).toBe(600)
  expect(countFrames(copy)).toBeGreaterThanOrEqual(500)
  copy.close()
})

test('a copy with fewer rows than there were, or with a flipped byte, is no copy', async () => {
  const db = freshDatabase()
  addMany(db, 300)
  const path = await backUp(db, freshFolder(), day(20))
  expect(() => checkCopy(path, { frames: 301, masters: 0 })).toThrow(/300 frames/)
  const bytes = Buffer.alloc(4096, 0x5a)
  const fd = openSync(path, 'r+')
  writeSync(fd, bytes, 0, bytes.length, Math.floor(statSync(path).size / 2 / 4096) * 4096)
  closeSync(fd)
  expect(() => checkCopy(path, { frames: 300, masters: 0 })).toThrow()
})

test('a copy that fails leaves every earlier one and nothing unfinished', async () => {
  const db = freshDatabase()
  add(db)
  const folder = freshFolder()
  const first = await backUp(db, folder, day(1))
  // A folder stands where the next copy would get its name: renaming onto it fails, as any disk error there would.
  const blocked = join(folder, 'nightshelf-20261102T060000Z.db')
  mkdirSync(blocked)
  writeFileSync(join(blocked, 'x'), '')
  await expect(backUp(db, folder, day(2))).rejects.toThrow()
  expect(existsSync(first)).toBe(true)
  expect(readdirSync(folder).filter((name) => name.endsWith('.unfinished'))).toEqual([])
})

test('a copy that is stopped half way leaves nothing', async () => {
  const db = freshDatabase()
  addMany(db, 300)
  const folder = freshFolder()
  await expect(backUp(db, folder, day(1), { signal: AbortSignal.abort(new Error('closing')) })).rejects.toThrow(
    'closing',
  )
  expect(readdirSync(folder)).toEqual([])
})
