import { existsSync, mkdirSync, rmSync } from 'node:fs'
import { copyFile } from 'node:fs/promises'
import { basename, join } from 'node:path'
import { Refusal } from '../../contract/index.ts'
import { asideName, type CheckCopy } from '../../../db/backup.ts'
import { fsyncPath } from '../../../db/fsync.ts'
import { replaceDatabase } from '../../../db/replace.ts'
import { backupsFolder } from '../backups.ts'
import { DATABASE, freeBytes, sizeOf } from './contents.ts'

/** A copy that was checked and lies ready in the data folder. */
export interface Prepared {
  /** Puts it in place; whoever calls this has the database closed. @returns where the one before it is kept, if there was one */
  putInPlace(now: Date): string | null
  drop(): void
}

/**
 * Copies a backup into the data folder and checks that very copy: whole, ours, and of a version that this program knows.
 * The backup itself is only read, so it can be restored again.
 * @throws Refusal, in a sentence, with nothing changed
 */
export async function prepareRestore(dataDir: string, backup: string, check: CheckCopy): Promise<Prepared> {
  const file = join(dataDir, DATABASE)
  mkdirSync(dataDir, { recursive: true })
  const ready = `${file}.restoring-${process.pid}`
  const free = freeBytes(dataDir)
  if (free !== null && free < sizeOf(backup))
    throw new Refusal('There is no room on the disk of the data folder for another copy of the log: make room first.')
  const drop = () => {
    for (const rest of ['', '-wal', '-shm', '-journal']) rmSync(ready + rest, { force: true })
  }
  try {
    await copyFile(backup, ready)
    await check(ready, { frames: 0, masters: 0 })
    fsyncPath(ready)
  } catch (error) {
    drop()
    throw new Refusal(`"${basename(backup)}" cannot be restored, and nothing was changed: ${asReason(error, ready)}`)
  }
  return {
    drop,
    putInPlace: (now) => {
      try {
        mkdirSync(backupsFolder(dataDir), { recursive: true })
        const aside = join(backupsFolder(dataDir), asideName(now))
        const hadOne = existsSync(file)
        replaceDatabase(file, ready, aside)
        return hadOne ? aside : null
      } finally {
        drop()
      }
    },
  }
}

function asReason(error: unknown, ready: string): string {
  const { message, code } = error as Error & { code?: string }
  if (code === 'ENOENT') return 'there is no such file.'
  if (code === 'ENOSPC') return 'the disk of the data folder is full; make room first.'
  if (/newer version/.test(message)) return 'it was written by a newer version of Nightshelf; update this one first.'
  if (code?.startsWith('SQLITE_') || message.includes(ready) || /damaged|no such table/.test(message))
    return 'it is damaged, or no copy of a log. Choose another one.'
  return /[.!]$/.test(message) ? message : `${message}.`
}
