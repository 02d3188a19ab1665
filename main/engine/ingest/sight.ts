import { Refusal } from '../../contract/refusal.ts'
import type { FileStat } from '../../watch/stat.ts'
import type { Describer } from './describe-file.ts'
import type { Sighted } from './place.ts'
import { readFrameFile } from './read.ts'
import type { FoundFile } from './walk.ts'

/** A file below the folder that was asked for. */
export type FileBelow = FoundFile & { root: string | null }

/**
 * Reads one file and describes it: all that logging needs and that touches no database, so that a thread can do it.
 * @param awaited true while watching: a short file is incomplete, not broken
 * @throws FitsError, one sentence
 */
export function sight(
  path: string,
  root: string | null,
  describe: Describer,
  seen?: FileStat,
  awaited = false,
): Sighted {
  const { info, ...reading } = readFrameFile(path, seen)
  const facts = describe(info.header, {
    path,
    root: root === path ? null : root,
    mtimeMs: reading.stat.modifiedMs,
    width: info.image?.width ?? null,
    height: info.image?.height ?? null,
  })
  const state = reading.problem === null ? 'ok' : awaited ? 'incomplete' : 'broken'
  return { ...reading, facts: { ...facts, state } }
}

/** What became of reading one file: it was seen, or one sentence. */
export type Sight = { sighted: Sighted } | { path: string; reason: string }

export function trySight({ path, stat, root }: FileBelow, describe: Describer): Sight {
  try {
    return { sighted: sight(path, root, describe, stat) }
  } catch (error) {
    if (error instanceof Refusal) return { path, reason: error.message }
    throw error
  }
}
