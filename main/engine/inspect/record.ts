import { existsSync, mkdirSync, readdirSync, renameSync, rmSync, writeFileSync } from 'node:fs'
import { basename, dirname, join } from 'node:path'
import { Refusal, type FileView } from '../../contract/index.ts'
import { createEpochs } from '../../match/epochs.ts'
import { immediately, type Readable } from '../../../db/handle.ts'
import { checkIds, insertCheck, pruneChecks } from '../../../db/tables/checks.ts'
import { masterById, setProven } from '../../../db/tables/masters.ts'
import { trainChanges } from '../../../db/tables/train-changes.ts'
import type { Core } from '../core.ts'
import { remember } from '../undo.ts'
import type { Fresh } from './fresh.ts'

export interface NewRecord {
  kind: 'flat' | 'dark' | 'proof'
  /** The master that was checked; a proof's dark. */
  master: number
  /** Null for a proof, and where a person chose the master: nothing follows from it. */
  holds: boolean | null
  /** As the answer says it, but for its id. */
  result: object
}

/**
 * Keeps what came out. A check that holds proves its master from the moment at which the frame was taken, and so admits an older flat to
 * the epoch of that moment.
 * @returns its id
 */
export function keepCheck(core: Core, fresh: Fresh, { kind, master, holds, result }: NewRecord): number {
  const { db, clock } = core
  const { at, frame } = fresh
  const id = immediately(db, () => {
    const check = insertCheck(db, {
      kind,
      masterId: master,
      path: frame.path,
      at,
      epoch: epochOf(core, fresh),
      holds,
      result: JSON.stringify(result),
    })
    const before = masterById(db, master, clock.now())?.provenAt ?? null
    if (holds !== true) return check
    if (before === null || before < at) setProven(db, master, at)
    remember(core, `Master ${master} was proven by ${basename(frame.path)}.`, { do: 'prove', master, check, before })
    return check
  })
  tidyChecks(core)
  core.changed('library', 'night')
  return id
}

/** The epoch that a frame was taken in; null where no rig is known. */
export const epochOf = ({ db }: Core, { frame, at }: Fresh): string | null =>
  createEpochs(trainChanges(db)).at(frame.rig, frame.filter, Date.parse(at)).id

/** Pictures of a check stand in folders of a thousand, like thumbnails. They are made once: the frame may be gone tomorrow. */
const picturePath = (dataDir: string, id: number, view: FileView) =>
  join(dataDir, 'checks', String(Math.floor(id / 1000)), `${id}-${view}`)

/** Of each master, besides all that proves something. */
const KEPT_CHECKS = 20

/** Forgets old checks, and deletes pictures of checks that are no more. */
function tidyChecks({ db, dataDir }: Core): void {
  pruneChecks(db, KEPT_CHECKS)
  try {
    dropPictures(db, dataDir)
  } catch (error) {
    // Left over pictures do no harm: the next check looks again.
    if (!(error as NodeJS.ErrnoException).syscall) throw error
  }
}

function dropPictures(db: Readable, dataDir: string): void {
  const root = join(dataDir, 'checks')
  const names = existsSync(root) ? readdirSync(root, { recursive: true, encoding: 'utf8' }) : []
  // Listed first, asked for rows afterwards: a check that is just being kept has its row before its picture.
  const known = checkIds(db)
  for (const name of names) {
    const id = /^(\d+)-.*\.png(\.unfinished)?$/.exec(basename(name))?.[1]
    if (id !== undefined && !known.has(Number(id))) rmSync(join(root, name), { force: true })
  }
}

/** Written whole or not at all. */
export function storePicture(dataDir: string, id: number, view: FileView, png: Uint8Array): void {
  const path = picturePath(dataDir, id, view)
  mkdirSync(dirname(path), { recursive: true })
  writeFileSync(`${path}.unfinished`, png)
  renameSync(`${path}.unfinished`, path)
}

/** @throws Refusal where there is no such picture */
export function checkPicture(dataDir: string, id: number, view: FileView): string {
  const path = picturePath(dataDir, id, view)
  if (!existsSync(path)) throw new Refusal(`Check ${id} has no such picture.`)
  return path
}
