import { resolve, sep } from 'node:path'
import { setImmediate as breathe } from 'node:timers/promises'
import { Refusal, type Frame } from '../../contract/index.ts'
import { immediately, type Writable } from '../../../db/handle.ts'
import { fileAt, filesBelow } from '../../../db/tables/files.ts'
import { putFolder } from '../../../db/tables/folders.ts'
import { frameById, frameIdentity } from '../../../db/tables/frames.ts'
import { isSame } from '../../watch/stat.ts'
import { instant, type Clock } from '../clock.ts'
import { createDescriber, type Describer } from './describer.ts'
import { isAbsent, leavePath, placeFrame, type IsGone, type Placed } from './place.ts'
import { readFrameFile, type FrameReading } from './read.ts'
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
  /** Called after each batch is safely in the database, in order. */
  onBatch?: (files: LoggedFile[]) => void
  /** True for a path that must not be taken for gone even if it is not there: its disk is away. */
  isOutOfReach?: (path: string) => boolean
}

/** So many files are read, then written in one transaction, then the event loop has its turn (about 25 ms). */
const BATCH = 128

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

type Item = { reading: FrameReading; root: string } | { file: LoggedFile; problem: string | null }

/** Reads and places files batch by batch, in path order. */
async function logFiles(
  files: Map<string, FoundFile & { root: string }>,
  report: LogReport,
  options: LogOptions,
): Promise<void> {
  const { db, signal, onProgress } = options
  const describe = createDescriber(db, options.zone)
  const paths = [...files.keys()].sort()
  for (let done = 0; done < paths.length; done += BATCH) {
    stopIf(signal)
    const items: Item[] = []
    for (const path of paths.slice(done, done + BATCH)) {
      const item = readOne(db, files.get(path)!, report)
      if (item) items.push(item)
    }
    // Sent only after the commit: what a listener hears of is on the disk.
    const batch = immediately(db, () => items.map((item) => settle(item, describe, report, options)))
    count(batch, report)
    options.onBatch?.(batch)
    onProgress?.(Math.min(done + BATCH, paths.length), paths.length)
    await breathe()
  }
}

/** Reads one file, or knows it by its stat: same size, times and inode as when its bytes were read. */
function readOne(db: Writable, found: FoundFile & { root: string }, report: LogReport): Item | null {
  const { path } = found
  const known = fileAt(db, path)
  if (known && known.changedMs === found.stat.changedMs && isSame(known, found.stat)) {
    const frame = frameIdentity(db, known.frameId)
    if (frame && frame.state !== 'gone')
      return {
        file: { path, id: frame.id, outcome: 'already', how: 'known', integrated: frame.integrated === 1 },
        problem: frame.problem,
      }
  }
  try {
    return { reading: readFrameFile(path), root: found.root }
  } catch (error) {
    if (!(error instanceof Refusal)) throw error
    report.problems.push({ path, reason: error.message })
    report.summary.unreadable++
    return null
  }
}

function settle(item: Item, describe: Describer, report: LogReport, options: LogOptions): LoggedFile {
  if ('file' in item) {
    if (item.problem !== null) report.problems.push({ path: item.file.path, reason: item.problem })
    return item.file
  }
  const { reading, root } = item
  if (reading.problem !== null) report.problems.push({ path: reading.path, reason: reading.problem })
  return { path: reading.path, ...place(reading, root, describe, options) }
}

/**
 * Describes one reading and gives it its place; inside the caller's transaction.
 * @param awaited true while watching: a short file is incomplete, not broken
 */
export function place(
  reading: FrameReading,
  root: string | null,
  describe: Describer,
  { db, clock, isOutOfReach }: Pick<LogOptions, 'db' | 'clock' | 'isOutOfReach'>,
  awaited = false,
): Placed {
  const { info, path, stat } = reading
  const facts = describe(info.header, {
    path,
    root: root === path ? null : root,
    mtimeMs: stat.modifiedMs,
    width: info.image?.width ?? null,
    height: info.image?.height ?? null,
  })
  const state = reading.problem === null ? 'ok' : awaited ? 'incomplete' : 'broken'
  return placeFrame(db, reading, { ...facts, state }, instant(clock), goneUnless(isOutOfReach))
}

export const goneUnless =
  (isOutOfReach?: (path: string) => boolean): IsGone =>
  (path) =>
    isAbsent(path) && !isOutOfReach?.(path)

function count(batch: LoggedFile[], { files, summary }: LogReport): void {
  for (const file of batch) {
    files.push(file)
    summary[file.outcome]++
  }
}

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
