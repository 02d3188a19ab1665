import type BetterSqlite3 from 'better-sqlite3'
import { Refusal } from '../main/contract/index.ts'
import { migrations as all, type Migration } from './migrations/index.ts'

/** "Nsh1" as a number: says that the file is ours ('PRAGMA application_id'). */
export const APPLICATION_ID = 0x4e736831

/** The version that this program writes. */
export const newestVersion = (migrations: Migration[] = all): number => migrations.at(-1)?.version ?? 0

/** @throws Refusal for a database that a newer program wrote, or that is no database of ours */
export function checkVersion(db: BetterSqlite3.Database, migrations: Migration[] = all): number {
  const version = db.pragma('user_version', { simple: true }) as number
  const application = db.pragma('application_id', { simple: true }) as number
  const tables = db.prepare('SELECT count(*) FROM sqlite_schema').pluck().get() as number
  if (tables > 0 && application !== APPLICATION_ID)
    throw new Refusal(`"${db.name}" is not a Nightshelf database; choose another data folder with --data.`)
  if (version > newestVersion(migrations))
    throw new Refusal(
      `"${db.name}" was written by a newer version of Nightshelf (format ${version}, this one knows ${newestVersion(migrations)}); update this program, or choose another data folder.`,
    )
  return version
}

/**
 * Brings the database to the newest version. Each migration and the number that says it was done are one transaction, so a
 * kill or a full disk leaves the version before or the version after, whole.
 * @returns how many migrations ran
 * @throws Refusal for a newer database; whatever SQLite throws, with the database as it was before that migration
 */
export function migrate(db: BetterSqlite3.Database, migrations: Migration[] = all): number {
  checkVersion(db, migrations)
  let ran = 0
  for (const { version, sql } of migrations) {
    const step = db.transaction(() => {
      // Looked up inside the transaction: another process may have migrated while this one waited for the lock.
      if ((db.pragma('user_version', { simple: true }) as number) >= version) return 0
      db.exec(sql)
      db.pragma(`application_id = ${APPLICATION_ID}`)
      db.pragma(`user_version = ${version}`)
      return 1
    })
    ran += step.immediate()
  }
  return ran
}
