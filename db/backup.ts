import BetterSqlite3 from 'better-sqlite3'
import { mkdirSync, readdirSync, renameSync, rmSync, statSync } from 'node:fs'
import { basename, dirname, join } from 'node:path'
import { fsyncPath } from './fsync.ts'
import type { Readable } from './handle.ts'
import { openReadOnly } from './open.ts'

/** How many copies are kept; the oldest goes when a new one has been checked. */
export const KEPT = 7

const pattern = /^nightshelf-\d{8}T\d{6}Z\.db$/
/** A database that a restored copy took the place of. */
const asidePattern = /^aside-\d{8}T\d{6}Z\.db$/

/** The time of a moment as it stands in a name: `20261120T060000Z`. */
const stampOf = (now: Date) => now.toISOString().replace(/[-:]|\.\d+/g, '')
export const asideName = (now: Date): string => `aside-${stampOf(now)}.db`

const filesIn = (folder: string, names: RegExp): string[] => {
  try {
    return readdirSync(folder)
      .filter((name) => names.test(name))
      .sort()
      .map((name) => join(folder, name))
  } catch {
    return []
  }
}

/** The copies in a folder, oldest first. */
export const listBackups = (folder: string): string[] => filesIn(folder, pattern)

export interface Backup {
  name: string
  path: string
  at: string
  bytes: number
  /** Put aside by a restore, not made as a copy. */
  aside: boolean
}

/** Everything in a folder that can be restored, newest first. */
export const describeBackups = (folder: string): Backup[] =>
  [...listBackups(folder), ...filesIn(folder, asidePattern)]
    .map((path) => {
      const name = basename(path)
      const [, y, mo, d, h, mi, s] = /(\d{4})(\d\d)(\d\d)T(\d\d)(\d\d)(\d\d)Z/.exec(name)!
      const at = `${y}-${mo}-${d}T${h}:${mi}:${s}.000Z`
      return { name, path, at, bytes: statSync(path).size, aside: asidePattern.test(name) }
    })
    .sort((a, b) => b.at.localeCompare(a.at))

/** How many rows a copy must have at least. */
export interface Rows {
  frames: number
  masters: number
}

/** Reads all of a copy; a thread's where there is one, since a million frames take long. */
export type CheckCopy = (file: string, least: Rows) => void | Promise<void>

export interface CopyOptions {
  signal?: AbortSignal
  check?: CheckCopy
}

/**
 * Copies a database through SQLite's own backup, page by page while others write, then opens the copy and checks it
 * (structure, and as many rows as were there). Only a checked copy gets its name. It is one file: no write-ahead log beside it.
 * @throws what SQLite or the disk throws, with nothing left of the copy
 */
export async function copyDatabase(
  db: Readable,
  to: string,
  { signal, check = checkCopy }: CopyOptions = {},
): Promise<void> {
  mkdirSync(dirname(to), { recursive: true })
  const unfinished = `${to}.unfinished`
  try {
    const before = countRows(db)
    // 2 000 pages (8 MB) at a time: a verdict never waits longer than that.
    await db.backup(unfinished, {
      progress: () => {
        signal?.throwIfAborted()
        return 2_000
      },
    })
    makeOneFile(unfinished)
    await check(unfinished, before)
    giveName(unfinished, to)
  } finally {
    dropUnfinished(unfinished)
  }
}

/**
 * A checked copy of the live database among the kept ones; only then does the oldest go.
 * @returns path of the copy
 * @throws what SQLite or the disk throws, with every earlier copy still there
 */
export async function backUp(db: Readable, folder: string, now: Date, options: CopyOptions = {}): Promise<string> {
  const path = backupPath(folder, now)
  await copyDatabase(db, path, options)
  dropOldest(folder)
  return path
}

/**
 * The same in one go, for a database that nobody works with yet: before it is changed to another format. Everybody waits for it, so
 * of the copy every page is read and its rows are counted; to hold each index against its table takes five times as long as all
 * that, and is left to `checkCopy` at leisure.
 * @returns path of the copy
 */
export function backUpNow(db: Readable, folder: string, now: Date): string {
  mkdirSync(folder, { recursive: true })
  const path = backupPath(folder, now)
  const unfinished = `${path}.unfinished`
  try {
    const before = countRows(db)
    dropUnfinished(unfinished)
    db.prepare('VACUUM INTO ?').run(unfinished)
    checkCopy(unfinished, before, 'quick_check')
    giveName(unfinished, path)
  } finally {
    dropUnfinished(unfinished)
  }
  dropOldest(folder)
  return path
}

const backupPath = (folder: string, now: Date) => join(folder, `nightshelf-${stampOf(now)}.db`)

function giveName(unfinished: string, path: string): void {
  fsyncPath(unfinished)
  renameSync(unfinished, path)
  fsyncPath(dirname(path))
}

function dropUnfinished(file: string): void {
  for (const rest of ['', '-wal', '-shm', '-journal']) rmSync(file + rest, { force: true })
}

function dropOldest(folder: string): void {
  for (const old of listBackups(folder).slice(0, -KEPT)) rmSync(old, { force: true })
}

/** A copy says of itself that it has a write-ahead log, as the original does; whoever only reads it would make one beside it. */
function makeOneFile(file: string): void {
  const copy = new BetterSqlite3(file)
  try {
    copy.pragma('journal_mode = DELETE')
  } finally {
    copy.close()
  }
}

/** Opens a copy as the program would and reads all of it. @throws Error where it is not whole */
export function checkCopy(file: string, least: Rows, how: 'integrity_check' | 'quick_check' = 'integrity_check'): void {
  const copy = openReadOnly(file)
  try {
    copy.pragma('mmap_size = 1073741824')
    const verdict = copy.pragma(how, { simple: true })
    if (verdict !== 'ok') throw new Error(`the copy is damaged: ${String(verdict)}`)
    const rows = countRows(copy)
    // The live database may have grown while it was copied; it never shrinks.
    if (rows.frames < least.frames || rows.masters < least.masters)
      throw new Error(
        `the copy has ${rows.frames} frames and ${rows.masters} masters, not ${least.frames} and ${least.masters}`,
      )
  } finally {
    copy.close()
  }
}

const countRows = (db: Readable) =>
  db.prepare('SELECT (SELECT count(*) FROM frames) AS frames, (SELECT count(*) FROM masters) AS masters').get() as Rows
