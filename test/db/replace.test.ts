import { existsSync, readdirSync, renameSync, utimesSync, writeFileSync } from 'node:fs'
import { join } from 'node:path'
import { expect, test } from 'vitest'
import { openDatabase } from '../../db/open.ts'
import { openAlone, replaceDatabase } from '../../db/replace.ts'
import { putSetting, setting } from '../../db/tables/settings.ts'
import { freshFolder } from './fresh.ts'

/** A database that says which one it is. */
function named(file: string, name: string): string {
  const db = openDatabase(file)
  putSetting(db, 'name', name)
  db.close()
  return file
}

function nameOf(file: string): unknown {
  const db = openDatabase(file)
  try {
    return setting(db, 'name')
  } finally {
    db.close()
  }
}

function pair() {
  const folder = freshFolder()
  return {
    folder,
    file: named(join(folder, 'log.db'), 'old'),
    ready: named(join(folder, 'ready.db'), 'new'),
    aside: join(folder, 'aside.db'),
  }
}

test('a database gives its place to another and is kept under a name of its own', () => {
  const { folder, file, ready, aside } = pair()
  replaceDatabase(file, ready, aside)
  expect([nameOf(file), nameOf(aside)]).toEqual(['new', 'old'])
  expect(readdirSync(folder).sort()).toEqual(['aside.db', 'log.db'])
})

test('is refused while somebody else has it open, with everything as it was', () => {
  const { file, ready, aside } = pair()
  const other = openDatabase(file)
  expect(() => replaceDatabase(file, ready, aside)).toThrow(/Another Nightshelf program/)
  expect([existsSync(ready), existsSync(aside)]).toEqual([true, false])
  other.close()
  expect(nameOf(file)).toBe('old')
})

test('a damaged database makes room all the same, and nothing of it is applied to the new one', () => {
  const { file, ready, aside } = pair()
  writeFileSync(file, 'no database any more')
  writeFileSync(`${file}-wal`, 'what may be saved')
  replaceDatabase(file, ready, aside)
  expect(nameOf(file)).toBe('new')
  expect([existsSync(aside), existsSync(`${file}-wal`)]).toEqual([true, false])
})

test('killed between the two renames, the next start goes on; a log of the old one is not applied to the new one', () => {
  const { file, ready, aside } = pair()
  renameSync(ready, `${file}.restored`)
  renameSync(file, aside)
  writeFileSync(`${file}-wal`, 'of the old one')
  expect(nameOf(file)).toBe('new')
  expect(nameOf(aside)).toBe('old')
})

test('killed before anything was put aside, the old one stays, and what was left over goes after an hour', () => {
  const { file, ready } = pair()
  renameSync(ready, `${file}.restored`)
  expect(nameOf(file)).toBe('old')
  expect(existsSync(`${file}.restored`)).toBe(true)
  utimesSync(`${file}.restored`, new Date(0), new Date(0))
  expect(nameOf(file)).toBe('old')
  expect(existsSync(`${file}.restored`)).toBe(false)
})

test('whoever opens a database that is held alone waits', () => {
  const { file } = pair()
  const held = openAlone(file)
  expect(() => openDatabase(file, { busyMs: 50 })).toThrow(/being written by another program/)
  held.close()
  expect(nameOf(file)).toBe('old')
})
