import BetterSqlite3 from 'better-sqlite3'
import { copyFileSync, existsSync, renameSync, rmSync, statSync } from 'node:fs'
import { dirname } from 'node:path'
import { Refusal } from '../main/contract/index.ts'
import { fsyncPath } from './fsync.ts'
import type { Readable } from './handle.ts'

/** What SQLite keeps beside a database while it is open, or after a kill. */
const BESIDE = ['-wal', '-shm'] as const
/** Long enough for a window that is just closing. */
const PATIENCE_MS = 3_000
const STALE_MS = 3_600_000

const readyName = (file: string) => `${file}.restored`

/**
 * Opens a database that nobody else has open, as one file without a write-ahead log. Until it is closed, whoever else opens it waits.
 * @throws Refusal where another program has it open; what SQLite throws for a damaged file
 */
export function openAlone(file: string): Readable {
  const db = new BetterSqlite3(file, { timeout: PATIENCE_MS, fileMustExist: true })
  try {
    // Only the last connection may leave the write-ahead log: this is what tells that there is no other one.
    db.pragma('journal_mode = DELETE')
    db.pragma('locking_mode = EXCLUSIVE')
    db.exec('BEGIN EXCLUSIVE; COMMIT')
    return db as Readable
  } catch (error) {
    db.close()
    if (!String((error as { code?: unknown }).code).startsWith('SQLITE_BUSY')) throw error
    throw new Refusal(
      'Another Nightshelf program has this log open: let it finish or end it, then try again. Nothing was changed.',
    )
  }
}

/**
 * Puts a checked copy in the place of the database, which gets another name. A kill at any moment leaves the one or the other:
 * `finishReplacing` goes on from there.
 * @param ready the copy, on the same disk; it is gone afterwards
 * @param aside a name for what stood there
 * @throws Refusal where another program has the database open, with nothing changed
 */
export function replaceDatabase(file: string, ready: string, aside: string): void {
  const held = heldUnlessDamaged(file)
  try {
    // A file that is open cannot be renamed there.
    if (process.platform === 'win32') held?.close()
    renameSync(ready, readyName(file))
    // What could not be brought into the database (its disk fails) goes with it: it may be all that can be saved.
    for (const rest of BESIDE) if (existsSync(file + rest)) copyFileSync(file + rest, aside + rest)
    if (existsSync(file)) renameSync(file, aside)
    fsyncPath(dirname(aside))
    finishReplacing(file)
  } finally {
    held?.close()
  }
}

/** Called before a database is opened: where a kill came after the old one was put aside, the new one gets its name now. */
export function finishReplacing(file: string): void {
  const ready = readyName(file)
  const there = statSync(ready, { throwIfNoEntry: false })
  if (!there) return
  if (existsSync(file)) {
    // Killed before anything was put aside, unless another program is at it just now.
    if (Date.now() - there.mtimeMs > STALE_MS) rmSync(ready, { force: true })
    return
  }
  // They belong to the database that was put aside, and would be applied to this one.
  for (const rest of BESIDE) rmSync(file + rest, { force: true })
  renameSync(ready, file)
  fsyncPath(dirname(file))
}

function heldUnlessDamaged(file: string): Readable | null {
  if (!existsSync(file)) return null
  try {
    return openAlone(file)
  } catch (error) {
    if (error instanceof Refusal) throw error
    return null
  }
}
