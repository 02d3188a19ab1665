import { open, rename, rm, utimes } from 'node:fs/promises'
import { setTimeout as wait } from 'node:timers/promises'
import { Refusal } from '../contract/index.ts'

/**
 * How capture programs put a file on the disk: under a temporary name that is changed when all is there, or in place,
 * where whoever looks early sees half a file.
 */
export type Manner = 'renamed' | 'in place'

export interface WriteOptions {
  manner: Manner
  /** Time that the writing takes, in pieces with pauses; 0 writes in one go. */
  lastsMs: number
  /** Set as the file's modification time; null leaves the real one. */
  modifiedAtMs: number | null
  signal: AbortSignal
}

const PIECES = 6
const UNFINISHED = '.part'

/**
 * Writes one file, replacing what is there. Stopped midway it removes what it wrote: nothing half done is left, under
 * either name.
 * @throws the signal's reason where it was stopped, Refusal where the disk does not take it
 */
export async function writeWhole(path: string, bytes: Uint8Array, options: WriteOptions): Promise<void> {
  const { manner, lastsMs, modifiedAtMs, signal } = options
  signal.throwIfAborted()
  const name = manner === 'renamed' ? path + UNFINISHED : path
  try {
    // Removed first and opened as new: a link that lies there is replaced, never followed.
    await rm(name, { force: true })
    const file = await open(name, 'wx')
    try {
      const pieces = lastsMs > 0 ? PIECES : 1
      for (let n = 0; n < pieces; n++) {
        if (n > 0) await wait(lastsMs / (pieces - 1), undefined, { signal })
        const from = Math.floor((bytes.length * n) / pieces)
        await file.writeFile(bytes.subarray(from, Math.floor((bytes.length * (n + 1)) / pieces)))
      }
    } finally {
      await file.close()
    }
    if (modifiedAtMs !== null) await utimes(name, modifiedAtMs / 1000, modifiedAtMs / 1000)
    if (manner === 'renamed') await rename(name, path)
  } catch (error) {
    await rm(name, { force: true })
    signal.throwIfAborted()
    const { code } = error as NodeJS.ErrnoException
    if (code === 'ENOSPC' || code === 'EDQUOT')
      throw new Refusal(`The disk is full at ${path}: make room and call it again, it goes on from there.`)
    if (code) throw new Refusal(`${path} cannot be written (${code}): see that the folder is there and writable.`)
    throw error
  }
}
