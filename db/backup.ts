import { mkdirSync, readdirSync, renameSync, rmSync } from 'node:fs'
import { join } from 'node:path'
import { fsyncPath } from './fsync.ts'
import type { Readable } from './handle.ts'
import { openReadOnly } from './open.ts'

/** How many copies are kept; the oldest goes when a new one has been checked. */
export const KEPT = 7

const pattern = /^nightshelf-\d{8}T\d{6}Z\.db$/

/** The copies in a folder, oldest first. */
export const listBackups = (folder: string): string[] => {
  try {
    return readdirSync(folder)
      .filter((name) => pattern.test(name))
      .sort()
      .map((name) => join(folder, name))
  } catch {
    return []
  }
}

/**
 * Copies the live database through SQLite's own backup, page by page while others write, then opens the copy and checks it
 * (structure, and as many rows as were there). Only a checked copy gets its name, and only then does the oldest go.
 * @returns path of the copy
 * @throws what SQLite or the disk throws, with every earlier copy still there
 */
export async function backUp(db: Readable, folder: string, now: Date, signal?: AbortSignal): Promise<string> {
  const copy = prepare(folder, now)
  try {
    const before = countRows(db)
    // 2 000 pages (8 MB) at a time: a verdict never waits longer than that.
    await db.backup(copy.unfinished, {
      progress: () => {
        signal?.throwIfAborted()
        return 2_000
      },
    })
    return keep(copy, before)
  } finally {
    rmSync(copy.unfinished, { force: true })
  }
}

/** The same in one go, for a database that nobody works with yet: before it is changed to another format. */
export function backUpNow(db: Readable, folder: string, now: Date): string {
  const copy = prepare(folder, now)
  try {
    const before = countRows(db)
    rmSync(copy.unfinished, { force: true })
    db.prepare('VACUUM INTO ?').run(copy.unfinished)
    return keep(copy, before)
  } finally {
    rmSync(copy.unfinished, { force: true })
  }
}

interface Copy {
  folder: string
  path: string
  unfinished: string
}

function prepare(folder: string, now: Date): Copy {
  mkdirSync(folder, { recursive: true })
  const path = join(folder, `nightshelf-${now.toISOString().replace(/[-:]|\.\d+/g, '')}.db`)
  return { folder, path, unfinished: `${path}.unfinished` }
}

/** Checked, and on the disk, it gets its name; then the oldest goes. */
function keep({ folder, path, unfinished }: Copy, least: { frames: number; masters: number }): string {
  checkCopy(unfinished, least)
  fsyncPath(unfinished)
  renameSync(unfinished, path)
  fsyncPath(folder)
  for (const old of listBackups(folder).slice(0, -KEPT)) rmSync(old, { force: true })
  return path
}

/** Opens a copy as the program would and reads all of it. @throws Error where it is not whole */
export function checkCopy(file: string, least: { frames: number; masters: number }): void {
  const copy = openReadOnly(file)
  try {
    const verdict = copy.pragma('integrity_check', { simple: true })
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
  db.prepare('SELECT (SELECT count(*) FROM frames) AS frames, (SELECT count(*) FROM masters) AS masters').get() as {
    frames: number
    masters: number
  }
