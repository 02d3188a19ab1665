import BetterSqlite3 from 'better-sqlite3'
import { mkdirSync } from 'node:fs'
import { dirname } from 'node:path'
import { Refusal } from '../main/contract/index.ts'
import type { Readable, Writable } from './handle.ts'
import { checkVersion, migrate, newestVersion } from './migrate.ts'
import { isNetworkPath } from './network-path.ts'
import { refusalOf } from './refusal-of.ts'
import { finishReplacing } from './replace.ts'

export interface OpenOptions {
  /** How long one writer waits for another, ms. */
  busyMs?: number
  /** Called before a database of an older version is migrated: the place for a backup. What it throws keeps it as it is. */
  beforeMigration?: (db: Readable, version: number) => void
}

/** SQLite's number for `synchronous=FULL`. */
const FULL = 2

/**
 * Opens (or makes) the database, brings it to this program's version and makes sure that a commit is on the disk when it
 * returns. The caller closes it.
 * @throws Refusal, in a sentence: a newer database, one on a network path, a folder that cannot be written, a damaged file
 */
export function openDatabase(file: string, { busyMs = 10_000, beforeMigration }: OpenOptions = {}): Writable {
  if (isNetworkPath(file))
    throw new Refusal(
      `The data folder "${dirname(file)}" lies on another machine, where a database is not safe; choose one on this machine's own disk with --data.`,
    )
  finishReplacing(file)
  const db = connect(file, busyMs)
  try {
    const version = checkVersion(db)
    db.pragma('journal_mode = WAL')
    db.pragma('journal_size_limit = 16777216')
    keepFull(db)
    db.pragma('foreign_keys = ON')
    // A larger page cache and a mapped file serve a million frames; both are limits, not reservations.
    db.pragma('cache_size = -65536')
    db.pragma('mmap_size = 1073741824')
    if (version > 0 && version < newestVersion()) beforeMigration?.(db as Readable, version)
    migrate(db)
    assertFullAfterWrite(db)
    return db as Writable
  } catch (error) {
    db.close()
    throw refusalOf(error, file)
  }
}

/** Opens the database for reading only, e.g. a backup that is to be checked. */
export function openReadOnly(file: string): Readable {
  try {
    const db = new BetterSqlite3(file, { readonly: true, fileMustExist: true })
    checkVersion(db)
    return db as Readable
  } catch (error) {
    throw refusalOf(error, file)
  }
}

function connect(file: string, busyMs: number) {
  try {
    mkdirSync(dirname(file), { recursive: true })
    return new BetterSqlite3(file, { timeout: busyMs })
  } catch (error) {
    throw refusalOf(error, file)
  }
}

const keepFull = (db: BetterSqlite3.Database) => db.pragma('synchronous = FULL')

/**
 * This binding lowers `synchronous` to NORMAL at the first write in WAL mode unless it was set explicitly, and then a power
 * cut could take the last minutes of a night with it. So it is looked at after a write, not before.
 */
function assertFullAfterWrite(db: BetterSqlite3.Database): void {
  db.exec("INSERT INTO settings (name, value) VALUES ('timesOpened', 1) ON CONFLICT DO UPDATE SET value = value + 1")
  const level = db.pragma('synchronous', { simple: true })
  if (level !== FULL) throw new Error(`synchronous is ${level} after a write, it must be ${FULL} (FULL)`)
}
