import { resolve, sep } from 'node:path'
import { setImmediate as breathe } from 'node:timers/promises'
import { Refusal, type Frame } from '../../contract/index.ts'
import { immediately, type Writable } from '../../../db/handle.ts'
import { fileAt, filesBelow } from '../../../db/tables/files.ts'
import { putFolder } from '../../../db/tables/folders.ts'
import { frameById, frameIdentity } from '../../../db/tables/frames.ts'
import { isSame, type FileStat } from '../../watch/stat.ts'
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
  /** True for a path that must not be taken for gone even if it is not there: its disk is away. */
  isOutOfReach?: (path: string) => boolean
}

/** A transaction takes so many files, or as many as this time allows: others wait for it, and so does the event loop. */
const BATCH = 256
const BATCH_MS = 80

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

/** What became of a batch: kept apart until it is committed, so that a report never tells of what was undone. */
interface Batch {
  files: LoggedFile[]
  problems: Problem[]
  unreadable: number
}

/** Reads and places files one by one, batch by batch, in path order. */
async function logFiles(
  files: Map<string, FoundFile & { root: string }>,
  report: LogReport,
  options: LogOptions,
): Promise<void> {
  const { db, signal, onProgress } = options
  const describe = createDescriber(db, options.zone)
  const paths = [...files.keys()].sort()
  for (let done = 0; done < paths.length;) {
    stopIf(signal)
    const batch: Batch = { files: [], problems: [], unreadable: 0 }
    done = immediately(db, () => {
      const until = performance.now() + BATCH_MS
      const end = Math.min(done + BATCH, paths.length)
      let next = done
      while (next < end && (next === done || performance.now() < until))
        logOne(files.get(paths[next++])!, batch, describe, options)
      return next
    })
    for (const file of batch.files) report.summary[file.outcome]++
    report.summary.unreadable += batch.unreadable
    report.files.push(...batch.files)
    report.problems.push(...batch.problems)
    onProgress?.(done, paths.length)
    await breathe()
  }
}

/** Logs one file, or knows it by its stat: same size, times and inode as when its bytes were read. */
function logOne(found: FoundFile & { root: string }, batch: Batch, describe: Describer, options: LogOptions): void {
  const { path, stat, root } = found
  const known = fileAt(options.db, path)
  if (known && known.changedMs === stat.changedMs && isSame(known, stat)) {
    const frame = frameIdentity(options.db, known.frameId)
    if (frame && frame.state !== 'gone') {
      const { id, problem, integrated } = frame
      if (problem !== null) batch.problems.push({ path, reason: problem })
      batch.files.push({ path, id, outcome: 'already', how: 'known', integrated: integrated === 1 })
      return
    }
  }
  const reading = tryToRead(path, stat, batch)
  if (!reading) return
  if (reading.problem !== null) batch.problems.push({ path, reason: reading.problem })
  batch.files.push({ path, ...place(reading, root, describe, options) })
}

function tryToRead(path: string, stat: FileStat, batch: Batch): FrameReading | null {
  try {
    return readFrameFile(path, stat)
  } catch (error) {
    if (!(error instanceof Refusal)) throw error
    batch.problems.push({ path, reason: error.message })
    batch.unreadable++
    return null
  }
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
