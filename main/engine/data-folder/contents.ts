import { readdirSync, rmSync, statfsSync, statSync } from 'node:fs'
import { join } from 'node:path'

export const DATABASE = 'nightshelf.db'
/** What the engine keeps in its folder besides the database. Kept: moved along, since it cannot be made again (or only slowly). */
export const KEPT_FOLDERS = ['masters', 'backups', 'thumbnails', 'checks'] as const
/** Made again when it is wanted. */
export const CACHE = 'cache'
export const DEMO = 'demo'

/** Every file below a folder, as paths relative to it, with `/`; none where there is no such folder. */
export function filesBelow(folder: string): string[] {
  try {
    return readdirSync(folder, { recursive: true, withFileTypes: true })
      .filter((entry) => entry.isFile())
      .map((entry) => join(entry.parentPath, entry.name).slice(folder.length + 1))
  } catch {
    return []
  }
}

export const sizeBelow = (folder: string): number =>
  filesBelow(folder).reduce((sum, file) => sum + sizeOf(join(folder, file)), 0)

/** Bytes of a database with what SQLite keeps beside it. */
export const databaseSize = (file: string): number =>
  ['', '-wal', '-shm'].reduce((sum, rest) => sum + sizeOf(file + rest), 0)

export const sizeOf = (file: string): number => statSync(file, { throwIfNoEntry: false })?.size ?? 0

/** Bytes that may still be written to the disk of a folder; null where it does not tell. */
export function freeBytes(folder: string): number | null {
  try {
    const { bavail, bsize } = statfsSync(folder)
    return bavail * bsize
  } catch {
    return null
  }
}

/** Takes away what is ours in a folder that was moved out of, and nothing else that may stand there. */
export function removeOurs(folder: string): void {
  for (const rest of ['', '-wal', '-shm']) rmSync(join(folder, DATABASE + rest), { force: true })
  for (const kept of [...KEPT_FOLDERS, CACHE]) rmSync(join(folder, kept), { recursive: true, force: true })
}
