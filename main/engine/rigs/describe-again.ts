import { sep } from 'node:path'
import { setImmediate as breathe } from 'node:timers/promises'
import { z } from 'zod'
import { parseHeader } from '../../fits/header.ts'
import { immediately, type Readable, type Writable } from '../../../db/handle.ts'
import { keptHeader } from '../../../db/tables/cards.ts'
import { allFolders } from '../../../db/tables/folders.ts'
import { describeAgain as write } from '../../../db/tables/frames.ts'
import { flatsOfUnknownLight, frameIdsBetween, highestFrameId } from '../../../db/tables/rig-frames.ts'
import { dropSetting, putSetting, setting } from '../../../db/tables/settings.ts'
import type { Core } from '../core.ts'
import { createDescriber, isBelow, type Describer } from '../ingest/describer.ts'
import { describeMastersAgain, keepMasterCards } from '../library/describe-masters-again.ts'
import { followFrames } from './follow-masters.ts'

/** Frames, and masters made elsewhere, whose description may be another now: those below these folders, or every one. */
export type Affected = readonly string[] | 'all'

/** Among folders, all flats of which nobody knows what lit them: noted by a migration. */
const FLATS = 'flats'

const PENDING = 'describeAgain'
const pendingSchema = z.union([z.literal('all'), z.array(z.string())])

/**
 * Notes in the caller's transaction that frames wait to be described again: a program that is killed half way finds it out when
 * it is started next.
 */
export function noteAffected(db: Writable, affected: Affected): void {
  const before = pendingOf(db)
  const both = before === 'all' || affected === 'all' ? 'all' : [...new Set([...before, ...affected])]
  if (both === 'all' || both.length > 0) putSetting(db, PENDING, both)
}

const pendingOf = (db: Readable): Affected => pendingSchema.parse(setting(db, PENDING) ?? [])

export const isAnythingAffected = (db: Readable): boolean => setting(db, PENDING) !== undefined

/** A transaction lasts about this long: others wait for it, and so does the event loop. */
const BATCH_MS = 25
/** Rows that are looked through before others have their turn, however few of them are affected. */
const READ_AHEAD = 2_000
/** Fewer than this are done before anybody would look at progress. */
const WORTH_TELLING = 2_000

const queues = new WeakMap<Writable, Promise<unknown>>()

/**
 * Describes the frames that were noted again, from their kept headers: no file is touched. One run after another.
 * @returns how many frames are told differently now
 */
export function describeAgain(core: Core): Promise<number> {
  const before = queues.get(core.db) ?? Promise.resolve()
  const run = before.catch(() => undefined).then(() => describeNoted(core))
  queues.set(core.db, run)
  return run
}

/** Resolves when no frame is being described again. */
export const settledDescribing = async (db: Writable): Promise<void> =>
  void (await queues.get(db)?.catch(() => undefined))

async function describeNoted(core: Core): Promise<number> {
  const { db, zone, closing } = core
  const affected = pendingOf(db)
  if (affected.length === 0 || closing.aborted) return 0
  const describe = createDescriber(db, zone)
  const roots = rootsOf(db)
  const ids = await idsOf(db, affected)
  const changed = new Set<number>()
  for (let done = 0; done < ids.length;) {
    if (closing.aborted) return changed.size
    done = immediately(db, () => {
      const until = performance.now() + BATCH_MS
      let next = done
      while (next < ids.length && (next === done || performance.now() < until)) {
        if (describeOne(db, ids[next], describe, roots)) changed.add(ids[next])
        next++
      }
      return next
    })
    if (ids.length > WORTH_TELLING) tellProgress(core, done, ids.length)
    await breathe()
    if (closing.aborted) return changed.size
  }
  await keepMasterCards(core, describe)
  const masters = await describeMastersAgain(
    core,
    describe,
    (path) => affected === 'all' || foldersIn(affected).some((folder) => isBelow(path, folder)),
  )
  if (closing.aborted) return changed.size
  immediately(db, () => {
    followFrames(db, changed)
    if (JSON.stringify(pendingOf(db)) === JSON.stringify(affected)) dropSetting(db, PENDING)
  })
  if (changed.size + masters > 0) core.changed('night', 'library', 'folders', 'settings')
  return changed.size
}

async function idsOf(db: Readable, affected: Affected): Promise<number[]> {
  const ranges = affected === 'all' ? [['', LAST] as const] : foldersIn(affected).map(rangeOf)
  const ids = new Set<number>(affected.includes(FLATS) ? flatsOfUnknownLight(db) : [])
  const last = highestFrameId(db)
  for (let after = 0; after < last; after += READ_AHEAD) {
    for (const [from, to] of ranges)
      for (const id of frameIdsBetween(db, from, to, after, after + READ_AHEAD)) ids.add(id)
    await breathe()
  }
  return [...ids].sort((a, b) => a - b)
}

const foldersIn = (affected: readonly string[]) => affected.filter((one) => one !== FLATS)

/** Sorts behind every path. */
const LAST = '\u{10ffff}'
const rangeOf = (folder: string): readonly [string, string] => {
  const base = folder.endsWith(sep) ? folder : folder + sep
  return [base, base + LAST]
}

/**
 * Describes one frame again from the header that was kept of it; inside the caller's transaction.
 * @param roots as `rootsOf` has them
 * @returns whether that makes a difference
 */
export function describeOne(db: Writable, id: number, describe: Describer, roots: readonly string[]): boolean {
  const kept = keptHeader(db, id)
  if (!kept) return false
  const { path, width, height, state, modifiedMs } = kept
  const root = roots.find((folder) => isBelow(path, folder)) ?? null
  const facts = describe(parseHeader(kept.bytes), { path, root, mtimeMs: modifiedMs ?? 0, width, height })
  // A file that is gone takes its date with it: a frame that had no other keeps the night it was given.
  const night = facts.startedAt === null && modifiedMs === null ? kept.night : facts.night
  return write(db, id, { ...facts, night, state })
}

/**
 * Folders that were watched or logged, inner ones first: of a frame, the first one that it is in is the one that was chosen. Its own
 * name and what stands above it says nothing of a frame.
 */
export const rootsOf = (db: Readable): string[] =>
  allFolders(db)
    .map((folder) => folder.path)
    .sort((a, b) => b.length - a.length)

function tellProgress({ tell }: Core, done: number, total: number): void {
  tell({
    event: 'progress',
    job: 'describe',
    title: 'Reading the kept headers again',
    done,
    total,
    leftS: null,
    state: done === total ? 'done' : 'running',
    text: null,
  })
}
