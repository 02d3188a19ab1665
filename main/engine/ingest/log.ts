import { resolve, sep } from 'node:path'
import { setImmediate as breathe } from 'node:timers/promises'
import { Refusal, type Frame } from '../../contract/index.ts'
import { immediately, type Writable } from '../../../db/handle.ts'
import { fileAt, filesBelow } from '../../../db/tables/files.ts'
import { putFolder } from '../../../db/tables/folders.ts'
import { frameById, frameIdentity } from '../../../db/tables/frames.ts'
import { isSame } from '../../watch/stat.ts'
import { instant, type Clock } from '../clock.ts'
import { describeContextOf } from './describer.ts'
import { isAbsent, leavePath, placeFrame, type IsGone, type Placed, type Sighted } from './place.ts'
import { createReader } from './reader.ts'
import type { Sight } from './sight.ts'
import { walk, type FoundFile, type Problem } from './walk.ts'

export interface LogSummary {
  seen: number
  logged: number
  amended: number
  already: number
  unreadable: number
}

/** What became of one file. `id` is the frame's; a duplicate shares it. */
export interface LoggedFile extends Placed {
  path: string
}

export interface LogReport {
  /** In path order, every file that could be parsed. */
  files: LoggedFile[]
  summary: LogSummary
  /** In path order: unreadable and broken files, on each run. */
  problems: Problem[]
}

export interface LogOptions {
  db: Writable
  clock: Clock
  zone: string
  signal?: AbortSignal
  /** Called a few times a second with the number of files done, of those found so far. */
  onProgress?: (done: number, total: number) => void
  /** True for a path that must not be taken for gone even if it is not there: its disk is away. */
  isOutOfReach?: (path: string) => boolean
}

/** So many files are read, placed in one transaction (about 50 ms), then the event loop and other writers have their turn. */
const BATCH = 512

/**
 * Logs every frame below these folders, exactly once: header first, no pixels. What was logged is in the database when this
 * returns or is stopped; what was not is found by the next run.
 * @throws Refusal when stopped, or when the disk is full
 */
export async function logFolders(dirs: string[], options: LogOptions): Promise<LogReport> {
  const roots = dirs.map((dir) => resolve(dir))
  const collected = await collect(roots, options)
  const report: LogReport = {
    files: [],
    summary: { seen: 0, logged: 0, amended: 0, already: 0, unreadable: collected.unreadable },
    problems: collected.problems,
  }
  await logFiles(collected.files, report, options)
  immediately(options.db, () => {
    for (const root of collected.roots) putFolder(options.db, root, false, instant(options.clock))
    for (const root of collected.roots) noteVanished(root, collected.files, options)
  })
  const byPath = <T extends { path: string }>(a: T, b: T) => (a.path < b.path ? -1 : a.path > b.path ? 1 : 0)
  report.files.sort(byPath)
  report.problems.sort(byPath)
  const { logged, amended, already, unreadable } = report.summary
  report.summary.seen = logged + amended + already + unreadable
  return report
}

interface Collected {
  files: Map<string, FoundFile & { root: string }>
  /** The folders that could be read. */
  roots: string[]
  problems: Problem[]
  unreadable: number
}

async function collect(roots: string[], { signal }: LogOptions): Promise<Collected> {
  const collected: Collected = { files: new Map(), roots: [], problems: [], unreadable: 0 }
  const troubled = new Set<string>()
  let looked = 0
  for (const root of roots) {
    let readable = true
    for (const found of walk(root)) {
      if ('file' in found) {
        if (!collected.files.has(found.file.path)) collected.files.set(found.file.path, { ...found.file, root })
      } else {
        if (found.problem.path === root && !found.counts) readable = false
        if (!troubled.has(found.problem.path)) {
          troubled.add(found.problem.path)
          collected.problems.push(found.problem)
          if (found.counts) collected.unreadable++
        }
      }
      if (++looked % 2000 === 0) {
        await breathe()
        stopIf(signal)
      }
    }
    if (readable && !collected.files.has(root)) collected.roots.push(root)
  }
  return collected
}

/** Reads and places files batch by batch, in path order. What is told of a batch is told after its commit. */
async function logFiles(
  files: Map<string, FoundFile & { root: string }>,
  report: LogReport,
  options: LogOptions,
): Promise<void> {
  const { db, signal, onProgress } = options
  const paths = [...files.keys()].sort()
  const batches = Array.from({ length: Math.ceil(paths.length / BATCH) }, (_, i) =>
    paths.slice(i * BATCH, (i + 1) * BATCH).map((path) => files.get(path)!),
  )
  const known: Map<string, Settled>[] = []
  for (const batch of batches) {
    known.push(knownByStat(db, batch))
    await breathe()
  }
  const unknown = batches.map((batch, i) => batch.filter((file) => !known[i].has(file.path)))
  const reader = createReader(unknown, describeContextOf(db, options.zone))
  try {
    for (let i = 0; i < batches.length; i++) {
      stopIf(signal)
      const sights = await reader.next()
      const placed = immediately(db, () => sights.map((sight) => settle(sight, options)))
      tellBatch([...known[i].values(), ...placed], report)
      onProgress?.(Math.min((i + 1) * BATCH, paths.length), paths.length)
      await breathe()
    }
  } finally {
    await reader.close()
  }
}

/** What became of one file: it is in the log (and may be broken), or cannot be read. */
type Settled = { file: LoggedFile; problem: string | null } | Problem

/** Files that are as they were when their bytes were read, by size, times and inode, need not be read again. */
function knownByStat(db: Writable, batch: FoundFile[]): Map<string, Settled> {
  const settled = new Map<string, Settled>()
  for (const { path, stat } of batch) {
    const known = fileAt(db, path)
    if (!known || known.changedMs !== stat.changedMs || !isSame(known, stat)) continue
    const frame = frameIdentity(db, known.frameId)
    if (!frame || frame.state === 'gone') continue
    const { id, problem } = frame
    const integrated = frame.integrated === 1
    settled.set(path, { file: { path, id, outcome: 'already', how: 'known', integrated }, problem })
  }
  return settled
}

function settle(sight: Sight, options: LogOptions): Settled {
  if ('reason' in sight) return sight
  const { path, problem } = sight.sighted
  return { file: { path, ...place(sight.sighted, options) }, problem }
}

function tellBatch(batch: Settled[], { files, summary, problems }: LogReport): void {
  for (const settled of batch) {
    if ('reason' in settled) {
      problems.push(settled)
      summary.unreadable++
    } else {
      files.push(settled.file)
      summary[settled.file.outcome]++
      if (settled.problem !== null) problems.push({ path: settled.file.path, reason: settled.problem })
    }
  }
}

/** Gives what was seen its place; inside the caller's transaction. */
export const place = (
  sighted: Sighted,
  { db, clock, isOutOfReach }: Pick<LogOptions, 'db' | 'clock' | 'isOutOfReach'>,
): Placed => placeFrame(db, sighted, instant(clock), goneUnless(isOutOfReach))

export const goneUnless =
  (isOutOfReach?: (path: string) => boolean): IsGone =>
  (path) =>
    isAbsent(path) && !isOutOfReach?.(path)

/** Files that stood below this folder at an earlier time and are there no more. */
function noteVanished(root: string, found: Map<string, unknown>, { db, isOutOfReach }: LogOptions): void {
  const isGone = goneUnless(isOutOfReach)
  for (const { path, frameId } of filesBelow(db, root, sep as '/' | '\\'))
    if (!found.has(path) && isGone(path)) leavePath(db, frameId, path, isGone)
}

function stopIf(signal: AbortSignal | undefined): void {
  if (signal?.aborted)
    throw new Refusal('Stopped: what was logged so far is kept, and the next run goes on from there.')
}

/** The frames of a report as they stand in the database, each under the path at which it was seen. */
export const framesOf = (db: Writable, files: LoggedFile[]): Frame[] =>
  files.flatMap(({ id, path }) => {
    const frame = frameById(db, id)
    return frame ? [{ ...frame, path }] : []
  })
