import { realpathSync } from 'node:fs'
import { basename, dirname, join, resolve } from 'node:path'
import { Refusal } from '../../contract/index.ts'
import { fileAt } from '../../../db/tables/files.ts'
import { allFolders } from '../../../db/tables/folders.ts'
import type { Core } from '../core.ts'
import { isBelow } from '../ingest/describer.ts'

/**
 * Where a file of ours may be written that a person named: never below a folder of frames, however it is spelled or linked, and
 * over no frame and no master.
 * @param what it is, as in "write the proof elsewhere"
 * @param more folders that are forbidden besides
 * @returns the path with its folder's links resolved
 * @throws Refusal in one sentence
 */
export function outPath(core: Core, out: string, what: string, more: readonly string[] = []): string {
  const asked = resolve(out)
  const folder = realPath(dirname(asked))
  if (folder === null) throw new Refusal(`The folder of ${asked} is not there: make it first, or name another one.`)
  const path = join(folder, basename(asked))
  const forbidden = [...allFolders(core.db).map((one) => one.path), ...more]
  const inside = forbidden.find((one) => path === one || isBelow(path, realPath(one) ?? one) || isBelow(path, one))
  if (inside !== undefined && !isBelow(path, realPath(core.dataDir) ?? core.dataDir))
    throw new Refusal(`${asked} lies in ${inside}, where the camera's own frames are: write the ${what} elsewhere.`)
  if (core.shelf.masters.some((master) => master.path === path || master.path === asked) || fileAt(core.db, path))
    throw new Refusal(`${asked} is a frame or a master: name another file for the ${what}.`)
  if (isBelow(path, join(realPath(core.dataDir) ?? core.dataDir, 'masters')))
    throw new Refusal(`${asked} lies among the masters of the library: write the ${what} elsewhere.`)
  return path
}

/** Its links resolved; null where nothing is there. */
export function realPath(path: string): string | null {
  try {
    return realpathSync(path)
  } catch {
    return null
  }
}
