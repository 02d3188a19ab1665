import BetterSqlite3 from 'better-sqlite3'
import { mkdirSync, writeFileSync } from 'node:fs'
import { join } from 'node:path'
import { expect, test } from 'vitest'
import { Refusal } from '../../main/contract/index.ts'
import { newestVersion } from '../../db/migrate.ts'
import { fileSystemOf, isNetworkPath, parseMountCommand, parseProcMounts } from '../../db/network-path.ts'
import { openDatabase, openReadOnly } from '../../db/open.ts'
import { putSetting, setting } from '../../db/tables/settings.ts'
import { freshDatabase, freshFolder } from './fresh.ts'

test('a commit is on the disk when it returns: synchronous stays FULL after the first writes in WAL mode', () => {
  const db = freshDatabase()
  putSetting(db, 'words', { asideWords: ['focus'] })
  expect(db.pragma('journal_mode', { simple: true })).toBe('wal')
  // 2 is FULL (SQLite's documentation of PRAGMA synchronous).
  expect(db.pragma('synchronous', { simple: true })).toBe(2)
})

test('without being set explicitly this binding lowers synchronous to NORMAL: the trap that the assertion guards against', () => {
  const db = new BetterSqlite3(join(freshFolder(), 'plain.db'))
  db.pragma('journal_mode = WAL')
  db.exec('CREATE TABLE t (x)')
  expect(db.pragma('synchronous', { simple: true })).toBe(1)
  db.close()
})

test('what was written is there after closing and opening again', () => {
  const file = join(freshFolder(), 'nightshelf.db')
  const first = openDatabase(file)
  putSetting(first, 'site', { name: 'Hill', latDeg: 48, longDeg: 11 })
  first.close()
  expect(setting(freshDatabase(file), 'site')).toEqual({ name: 'Hill', latDeg: 48, longDeg: 11 })
})

test('a database that a newer program wrote is refused with a sentence and left as it is', () => {
  const file = join(freshFolder(), 'nightshelf.db')
  const db = openDatabase(file)
  db.pragma(`user_version = ${newestVersion() + 1}`)
  db.close()
  expect(() => openDatabase(file)).toThrow(Refusal)
  expect(() => openDatabase(file)).toThrow(/newer version/)
  const after = new BetterSqlite3(file)
  expect(after.pragma('user_version', { simple: true })).toBe(newestVersion() + 1)
  after.close()
})

test("another program's database is refused with a sentence and left as it is", () => {
  const file = join(freshFolder(), 'nightshelf.db')
  const other = new BetterSqlite3(file)
  other.exec('CREATE TABLE theirs (x)')
  other.close()
  expect(() => openDatabase(file)).toThrow(/not a Nightshelf database/)
  const after = new BetterSqlite3(file)
  expect(after.prepare('SELECT name FROM sqlite_schema').pluck().all()).toEqual(['theirs'])
  after.close()
})

test.each([
  ['text', (file: string) => writeFileSync(file, 'no database\n'.repeat(400)), /not a database/],
  ['a folder', (file: string) => mkdirSync(file), /cannot be opened/],
])('%s in the place of the database is refused with a sentence', (_what, make, sentence) => {
  const file = join(freshFolder(), 'nightshelf.db')
  make(file)
  expect(() => openDatabase(file)).toThrow(Refusal)
  expect(() => openDatabase(file)).toThrow(sentence)
})

test('opening for reading only never makes a file', () => {
  expect(() => openReadOnly(join(freshFolder(), 'none.db'))).toThrow(Refusal)
})

// The lines of /proc/self/mounts: proc(5), fstab(5).
const mounts = parseProcMounts(
  [
    '/dev/sda1 / ext4 rw,relatime 0 0',
    'nas:/export /mnt/nas nfs4 rw,vers=4.2 0 0',
    '//pc/share /mnt/two\\040words cifs rw 0 0',
    'host: /mnt/ssh fuse.sshfs rw 0 0',
    '/dev/sdb1 /mnt/nas/local ext4 rw 0 0',
  ].join('\n'),
)

test.each([
  ['/home/me/data', 'ext4'],
  ['/mnt/nas/data/nightshelf.db', 'nfs4'],
  ['/mnt/nasty/data', 'ext4'],
  ['/mnt/two words/data', 'cifs'],
  ['/mnt/ssh/x', 'fuse.sshfs'],
  ['/mnt/nas/local/x', 'ext4'],
])('%s lies on %s: the longest mount point above it decides', (path, type) => {
  expect(fileSystemOf(path, mounts)).toBe(type)
})

test('a share is known by the mount command of macOS and by its name on Windows', () => {
  const mac = parseMountCommand(
    '/dev/disk3s1 on / (apfs, local)\n//me@nas/data on /Volumes/data (smbfs, nodev, nosuid)\n',
  )
  expect(fileSystemOf('/Volumes/data/x.db', mac)).toBe('smbfs')
  expect(isNetworkPath('\\\\nas\\data\\x.db', 'win32')).toBe(true)
  expect(isNetworkPath('\\\\?\\UNC\\nas\\data\\x.db', 'win32')).toBe(true)
  expect(isNetworkPath('\\\\?\\C:\\data\\x.db', 'win32')).toBe(false)
  expect(isNetworkPath('C:\\data\\x.db', 'win32')).toBe(false)
})

test("this machine's own disk is no network path", () => {
  expect(isNetworkPath(freshFolder())).toBe(false)
})
