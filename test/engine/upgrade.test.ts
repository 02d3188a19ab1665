import BetterSqlite3 from 'better-sqlite3'
import { existsSync, mkdirSync, readFileSync, rmSync, writeFileSync } from 'node:fs'
import { join } from 'node:path'
import { expect, onTestFinished, test } from 'vitest'
import { checkCopy, listBackups } from '../../db/backup.ts'
import { migrate, newestVersion } from '../../db/migrate.ts'
import { migrations } from '../../db/migrations/index.ts'
import { backupsFolder } from '../../main/engine/backups.ts'
import { DATABASE } from '../../main/engine/data-folder/contents.ts'
import { openEngine, type Opening } from '../../main/engine/open.ts'
import { freshEngine, listenTo, StillClock } from './engines.ts'
import { freshFolder } from './night-files.ts'

const rows = (name: string) => readFileSync(join(import.meta.dirname, '../db/rows', name), 'utf8')
const latest = migrations.length - 1
const before = String(latest).padStart(4, '0')

/** A data folder as the version before this one left it, with rows in every table. */
function oldDataFolder(): string {
  const dataDir = join(freshFolder(), 'data')
  mkdirSync(dataDir)
  const db = new BetterSqlite3(join(dataDir, DATABASE))
  migrate(db, migrations.slice(0, latest))
  db.exec(rows(`${before}.sql`))
  db.close()
  return dataDir
}
const open = (dataDir: string) => openEngine({ dataDir, clock: new StillClock(), zone: 'UTC' })
const count = (db: BetterSqlite3.Database, table: string) => db.prepare(`SELECT count(*) FROM ${table}`).pluck().get()

test('a database of the version before is backed up, checked and whole, before it is changed', async () => {
  const dataDir = oldDataFolder()
  const engine = await open(dataDir)
  expect(engine.db.pragma('user_version', { simple: true })).toBe(newestVersion())
  const [copy, ...more] = listBackups(backupsFolder(dataDir))
  expect(more).toEqual([])
  const old = new BetterSqlite3(copy, { readonly: true })
  expect(old.pragma('user_version', { simple: true })).toBe(latest)
  expect(old.pragma('integrity_check', { simple: true })).toBe('ok')
  for (const table of ['frames', 'masters', 'cards', 'settings']) expect(count(old, table)).toBeGreaterThan(0)
  expect(count(old, 'frames')).toBe(count(engine.db as unknown as BetterSqlite3.Database, 'frames'))
  migrate(new BetterSqlite3(old.serialize()))
  old.close()
  await engine.close()
})

test('flats from before what lit them was kept are described again at the first start, from their kept headers', async () => {
  const engine = await open(oldDataFolder())
  expect((await engine.ask('frame', { id: 8 })).frame.lightSource).toBe('sky')
  await engine.close()
})

test('whoever waits is told what is being done, and the copy is looked at closely afterwards', async () => {
  const dataDir = oldDataFolder()
  const said: Opening[] = []
  const onOpening = (opening: Opening) => said.push(opening)
  const engine = await openEngine({ dataDir, clock: new StillClock(), zone: 'UTC', live: true, onOpening })
  onTestFinished(() => engine.close())
  expect(said.map(({ title, done, total }) => [title.split(' ')[0], done, total])).toEqual([
    ['Making', 0, 2],
    ['Bringing', 1, 2],
    ['Bringing', 2, 2],
  ])
  const folder = backupsFolder(dataDir)
  const [copy] = listBackups(folder)
  // A disk that loses what it was given, after the copy was found whole.
  const bytes = readFileSync(copy)
  bytes.fill(0x5a, bytes.length >> 1, (bytes.length >> 1) + 4096)
  writeFileSync(copy, bytes)
  const told = listenTo(engine)
  const backup = (state: string) => told.of('progress').find((event) => event.job === 'backup' && event.state === state)
  await told.until(() => backup('failed') !== undefined && backup('done') !== undefined, 20_000)
  expect(backup('failed')!.text).toMatch(/before the log was brought to this version is damaged; .* check the disk/)
  expect(readFileSync(`${copy}.damaged`).equals(bytes)).toBe(true)
  const [another, ...more] = listBackups(folder)
  expect(more).toEqual([])
  checkCopy(another, { frames: 1, masters: 1 })
}, 40_000)

test('a fresh database and one of this version are not backed up for it', async () => {
  const engine = await freshEngine()
  await engine.close()
  const again = await open(engine.dataDir)
  expect(listBackups(backupsFolder(engine.dataDir))).toEqual([])
  await again.close()
})

test('where the backup cannot be made, the database stays as it is, with a sentence; later it goes on', async () => {
  const dataDir = oldDataFolder()
  writeFileSync(backupsFolder(dataDir), 'a file where the folder should be')
  await expect(open(dataDir)).rejects.toThrow(/could not be backed up before the change .* start again\./)
  const db = new BetterSqlite3(join(dataDir, DATABASE))
  expect(db.pragma('user_version', { simple: true })).toBe(latest)
  db.close()
  rmSync(backupsFolder(dataDir))
  const engine = await open(dataDir)
  expect(existsSync(listBackups(backupsFolder(dataDir))[0])).toBe(true)
  await engine.close()
})
