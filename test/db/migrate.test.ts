import BetterSqlite3 from 'better-sqlite3'
import { existsSync, readFileSync } from 'node:fs'
import { join } from 'node:path'
import { expect, test } from 'vitest'
import { APPLICATION_ID, migrate, newestVersion } from '../../db/migrate.ts'
import { migrations, type Migration } from '../../db/migrations/index.ts'
import { freshFolder } from './fresh.ts'

const version = (db: BetterSqlite3.Database) => db.pragma('user_version', { simple: true })
const schema = (db: BetterSqlite3.Database) =>
  db.prepare("SELECT name, sql FROM sqlite_schema WHERE name NOT LIKE 'sqlite_%' ORDER BY name").all()

test('migrations are numbered from 1 without a gap, and a fresh database gets the newest', () => {
  expect(migrations.map((m) => m.version)).toEqual(migrations.map((_, i) => i + 1))
  const db = new BetterSqlite3(':memory:')
  expect(migrate(db)).toBe(migrations.length)
  expect(version(db)).toBe(newestVersion())
  expect(db.pragma('application_id', { simple: true })).toBe(APPLICATION_ID)
  expect(migrate(db)).toBe(0)
})

/**
 * Each migration from the one before it, with rows in every table: `rows/NNNN.sql` fills a database of that version, and
 * `rows/NNNN.expected.json` says what a query finds after the next. The first has nothing before it.
 */
test.each(migrations.slice(1))('migration $version keeps every row that version N-1 held', ({ version: to }) => {
  const rows = (name: string) => join(import.meta.dirname, 'rows', name)
  const before = String(to - 1).padStart(4, '0')
  expect(
    existsSync(rows(`${before}.sql`)),
    `test/db/rows/${before}.sql must fill a database of version ${to - 1}`,
  ).toBe(true)
  const db = new BetterSqlite3(':memory:')
  migrate(db, migrations.slice(0, to - 1))
  db.exec(readFileSync(rows(`${before}.sql`), 'utf8'))
  migrate(db, migrations.slice(0, to))
  const expected = JSON.parse(readFileSync(rows(`${before}.expected.json`), 'utf8')) as Record<string, unknown[]>
  for (const [query, found] of Object.entries(expected)) expect(db.prepare(query).all()).toEqual(found)
  expect(db.pragma('integrity_check', { simple: true })).toBe('ok')
  expect(db.pragma('foreign_key_check')).toEqual([])
})

const [first] = migrations
const second: Migration = { version: 2, sql: "ALTER TABLE settings ADD COLUMN note TEXT NOT NULL DEFAULT 'none'" }

test('the harness moves whole rows from N-1 to N', () => {
  const db = new BetterSqlite3(':memory:')
  migrate(db, [first])
  db.exec("INSERT INTO settings (name, value) VALUES ('site', '1'), ('words', '2')")
  expect(migrate(db, [first, second])).toBe(1)
  expect(db.prepare('SELECT * FROM settings ORDER BY name').all()).toEqual([
    { name: 'site', value: '1', note: 'none' },
    { name: 'words', value: '2', note: 'none' },
  ])
})

test('a migration that fails at any of its statements leaves version, tables and rows as they were', () => {
  const statements = [
    'CREATE TABLE extra (x)',
    'INSERT INTO extra VALUES (1)',
    "UPDATE settings SET value = 'changed'",
    'DROP TABLE notices',
  ]
  for (let n = 0; n <= statements.length; n++) {
    const db = new BetterSqlite3(':memory:')
    migrate(db, [first])
    db.exec("INSERT INTO settings (name, value) VALUES ('site', '1')")
    const before = schema(db)
    const broken = [...statements.slice(0, n), 'SELECT * FROM nowhere', ...statements.slice(n)].join(';\n')
    expect(() => migrate(db, [first, { version: 2, sql: broken }])).toThrow(/nowhere/)
    expect(version(db)).toBe(1)
    expect(schema(db)).toEqual(before)
    expect(db.prepare('SELECT value FROM settings').pluck().all()).toEqual(['1'])
  }
})

test('a disk that fills up in the middle of a migration leaves the version before', () => {
  const db = new BetterSqlite3(join(freshFolder(), 'small.db'))
  migrate(db, [first])
  db.exec("INSERT INTO settings (name, value) VALUES ('site', '1')")
  const pages = db.pragma('page_count', { simple: true }) as number
  // SQLite answers SQLITE_FULL when a database would outgrow max_page_count, as it does when the disk is full.
  db.pragma(`max_page_count = ${pages + 3}`)
  const big = {
    version: 2,
    sql: `CREATE TABLE big (x);
      WITH RECURSIVE row (n) AS (SELECT 1 UNION ALL SELECT n + 1 FROM row WHERE n < 1000) INSERT INTO big SELECT randomblob(1000) FROM row`,
  }
  expect(() => migrate(db, [first, big])).toThrow(/full/)
  expect(version(db)).toBe(1)
  expect(db.pragma('integrity_check', { simple: true })).toBe('ok')
  expect(db.prepare('SELECT value FROM settings').pluck().all()).toEqual(['1'])
  db.close()
})

test('two programs that open an old database at once migrate it once', () => {
  const file = join(freshFolder(), 'shared.db')
  const one = new BetterSqlite3(file)
  const two = new BetterSqlite3(file)
  migrate(one, [first])
  expect(migrate(one, [first, second]) + migrate(two, [first, second])).toBe(1)
  one.close()
  two.close()
})
