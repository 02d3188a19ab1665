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
  mkdirSync(folder, { recursive: true })
  const name = `nightshelf-${now.toISOString().replace(/[-:]|\.\d+/g, '')}.db`
  const unfinished = join(folder, `${name}.unfinished`)
  try {
    const before = countRows(db)
    // 2 000 pages (8 MB) at a time: a verdict never waits longer than that.
    await db.backup(unfinished, {
      progress: () => {
        signal?.throwIfAborted()
        return 2_000
      },
    })
    checkCopy(unfinished, before)
    fsyncPath(unfinished)
    renameSync(unfinished, join(folder, name))
    fsyncPath(folder)
  } finally {
    rmSync(unfinished, { force: true })
  }
  for (const old of listBackups(folder).slice(0, -KEPT)) rmSync(old, { force: true })
  return join(folder, name)
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
