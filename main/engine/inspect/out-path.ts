import { realpathSync } from 'node:fs'
import { basename, dirname, join, resolve } from 'node:path'
import { Refusal } from '../../contract/index.ts'
import { refuseToOverwrite } from '../../inspect/proof-file.ts'
import { fileAt } from '../../../db/tables/files.ts'
import { allFolders } from '../../../db/tables/folders.ts'
import type { Core } from '../core.ts'
import { isBelow } from '../ingest/describer.ts'

/**
 * Where a proof may be written: never below a folder of frames, however it is spelled or linked, and over nothing but an
 * earlier proof.
 * @param light the light's own path: its folder belongs to the camera even where it was never logged
 * @returns the path with its folder's links resolved
 * @throws Refusal in one sentence
 */
export function proofPath(core: Core, out: string, light: string): string {
  const asked = resolve(out)
  const folder = real(dirname(asked))
  if (folder === null) throw new Refusal(`The folder of ${asked} is not there: make it first, or name another one.`)
  const path = join(folder, basename(asked))
  const forbidden = [...allFolders(core.db).map((one) => one.path), dirname(light), dirname(real(light) ?? light)]
  const inside = forbidden.find((one) => path === one || isBelow(path, real(one) ?? one) || isBelow(path, one))
  if (inside !== undefined && !isBelow(path, real(core.dataDir) ?? core.dataDir))
    throw new Refusal(`${asked} lies in ${inside}, where the camera's own frames are: write the proof elsewhere.`)
  if (core.shelf.masters.some((master) => master.path === path || master.path === asked) || fileAt(core.db, path))
    throw new Refusal(`${asked} is a frame or a master: name another file for the proof.`)
  if (isBelow(path, join(real(core.dataDir) ?? core.dataDir, 'masters')))
    throw new Refusal(`${asked} lies among the masters of the library: write the proof elsewhere.`)
  refuseToOverwrite(path)
  return path
}

function real(path: string): string | null {
  try {
    return realpathSync(path)
  } catch {
    return null
  }
}
