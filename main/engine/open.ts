import { mkdirSync } from 'node:fs'
import { join, resolve } from 'node:path'
import { Refusal, type EngineLink, type Frame } from '../contract/index.ts'
import { openDatabase } from '../../db/open.ts'
import { fileAt } from '../../db/tables/files.ts'
import { writeRefusalOf } from '../../db/refusal-of.ts'
import type { Writable } from '../../db/handle.ts'
import { backUpBefore, backupsFolder, BackupKeeper } from './backups.ts'
import { Builder } from './builds/builder.ts'
import { systemClock, type Clock } from './clock.ts'
import type { Core } from './core.ts'
import { DATABASE } from './data-folder/contents.ts'
import { followMoves } from './data-folder/follow.ts'
import { Leaving, type LastWord } from './data-folder/leaving.ts'
import { Mover } from './data-folder/mover.ts'
import { Events } from './events.ts'
import { framesOf, logFolders, type LogOptions, type LogReport } from './ingest/log.ts'
import { Inspections } from './inspect/inspections.ts'
import { MasterLane } from './library/master-lane.ts'
import { Shelf } from './library/shelf.ts'
import { Arrivals } from './live/arrivals.ts'
import { NeighbourWatch } from './live/neighbours.ts'
import { Reach } from './live/reach.ts'
import { Watching, type WatchTuning } from './live/watching.ts'
import { SecondLane } from './measure/second-lane.ts'
import { Judging } from './night/judging.ts'
import { NightBook } from './night/night-book.ts'
import type { PlayDemo } from './requests/folders.ts'
import { answer, handlersOf } from './requests/index.ts'
import { describeAgain, isAnythingAffected, settledDescribing } from './rigs/describe-again.ts'

export interface EngineOptions {
  /** The folder with the database, the built masters and the backups; made if it is not there. */
  dataDir: string
  clock?: Clock
  /** IANA name; the machine's own by default. */
  zone?: string
  /**
   * True for the engine behind a window: watches folders, measures in the background, backs up, and notices what the command
   * line writes. False (the command line's own) does only what it is asked.
   */
  live?: boolean
  /** How watching is done, for tests that play a night at speed. */
  watching?: WatchTuning
  playDemo?: PlayDemo
  /** Told what goes on where opening takes long: a large log that an older version wrote. */
  onOpening?: (opening: Opening) => void
}

/** What is being done while the engine opens, and the how many-th of how many. */
export interface Opening {
  title: string
  done: number
  total: number
}

/** The engine: what a window can ask, and what the command line needs besides. */
export interface Engine extends EngineLink {
  /** Logs every frame below these folders; see `logFolders`. */
  log(dirs: string[], options?: Pick<LogOptions, 'signal' | 'onProgress'>): Promise<LogReport>
  /** The frames of a report, each under the path at which it was seen. */
  framesOf(report: LogReport): Frame[]
  /** The frame that stands in the log under this path. */
  frameAt(path: string): number | null
  /** Waits for figures and whole-file hashes of these frames. */
  measure(
    ids: number[],
    options?: { signal?: AbortSignal; onProgress?: (done: number, total: number) => void },
  ): Promise<void>
  /** Waits for the figures of masters that have none yet, and for what near matches to darks cost. */
  measureMasters(options?: { signal?: AbortSignal; onProgress?: (done: number, total: number) => void }): Promise<void>
  /** Resolves when every watched folder was looked at and everything found is logged. */
  settled(): Promise<void>
  readonly db: Writable
  readonly dataDir: string
  /** Resolves when it wants to be closed and opened again: a copy of the log is restored, or the data folder moved. */
  readonly leaving: Promise<void>
  /** Once it is closed: how the work went that had to wait for that, if there was any. */
  readonly lastWord: LastWord | null
}

/**
 * Opens the data folder and everything that works on it.
 * @throws Refusal, in a sentence, where the database cannot be opened
 */
export async function openEngine(options: EngineOptions): Promise<Engine> {
  const { clock = systemClock, zone = systemZone(), live = false } = options
  const dataDir = followMoves(resolve(options.dataDir))
  let unchecked: string | null = null
  const db = openDatabase(databaseIn(dataDir), {
    beforeMigration: (old) => {
      options.onOpening?.({ title: 'Making a copy of the log before it is brought to this version', done: 0, total: 2 })
      unchecked = backUpBefore(old, dataDir, clock)
      options.onOpening?.({ title: 'Bringing the log to this version', done: 1, total: 2 })
    },
  })
  if (unchecked !== null) options.onOpening?.({ title: 'Bringing the log to this version', done: 2, total: 2 })
  const stop = new AbortController()
  const events = new Events()
  const leaving = new Leaving()
  const core = makeCore({ db, dataDir, clock, zone, closing: stop.signal, events, leaving })
  const lane = new SecondLane(core)
  const reach = new Reach()
  const arrivals = new Arrivals(
    core,
    reach,
    (frames) => live && lane.landed(frames),
    (id) => lane.first(id),
  )
  const watching = new Watching(core, arrivals, reach, live ? (options.watching ?? {}) : null)
  const builder = new Builder(core, (ids, how) => lane.measure(ids, how))
  const inspections = new Inspections(core)
  const masters = new MasterLane(
    core,
    () => builder.integrator,
    () => inspections.inspector,
  )
  const backups = new BackupKeeper(core, (night) => void lane.rechecks.night(night).catch(() => {}), unchecked)
  const mover = new Mover(core)
  const neighbours = new NeighbourWatch(core, () => lane.wake())
  core.attach(watching, arrivals, lane)

  let lastWord: LastWord | null = null
  let closed: Promise<void> | null = null
  const close = () =>
    (closed ??= (async () => {
      stop.abort(new Refusal('Nightshelf is closing.'))
      neighbours.stop()
      backups.stop()
      await watching.close()
      await arrivals.settled()
      await settledDescribing(db)
      await masters.close()
      await inspections.close()
      await builder.close()
      await lane.close()
      await mover.close()
      await backups.settled()
      events.close()
      db.close()
      lastWord = await leaving.finish()
    })())
  const handlers = handlersOf(core, builder, inspections, backups, mover, options.playDemo, close)
  // A program that was killed while it described frames again left them noted. A window shows what is there meanwhile.
  if (isAnythingAffected(db)) {
    const described = describeAgain(core)
    if (!live) await described
  }
  if (live) {
    void watching.follow()
    neighbours.start()
    masters.wake()
    events.listen((event) => {
      if (event.event !== 'changed') return
      if (event.what.includes('library')) masters.wake()
      // A folder that was out of reach may be back.
      if (event.what.includes('folders')) lane.wake()
    })
    backups.start()
    lane.wake()
  }
  return {
    db,
    dataDir,
    ask: (request, input) =>
      (closed
        ? refuseClosed()
        : answer(handlers, request, input).catch((error: unknown) => {
            throw writeRefusalOf(error, db.name)
          })) as never,
    listen: (listener) => events.listen(listener),
    log: async (dirs, { signal, onProgress } = {}) => {
      const report = await logFolders(dirs, { ...core, signal, onProgress })
      core.changed('night', 'folders')
      core.judging.forget()
      return report
    },
    framesOf: (report) => framesOf(db, report.files),
    frameAt: (path) => fileAt(db, path)?.frameId ?? null,
    measure: (ids, how) => lane.measure(ids, how),
    measureMasters: (how) => masters.measure(how),
    settled: () => watching.settled(),
    leaving: leaving.asked,
    get lastWord() {
      return lastWord
    },
    close,
  }
}

const refuseClosed = () => Promise.reject(new Refusal('Nightshelf is closing.'))

function databaseIn(dataDir: string): string {
  try {
    mkdirSync(dataDir, { recursive: true })
  } catch (error) {
    const { code } = error as NodeJS.ErrnoException
    throw new Refusal(`The data folder "${dataDir}" cannot be made (${code}): choose another one with --data.`)
  }
  return join(dataDir, DATABASE)
}

type Parts = Pick<Core, 'db' | 'dataDir' | 'clock' | 'zone' | 'closing' | 'leaving'> & { events: Events }

/** The core is needed by the watchers, and knows them: they are attached once they are there. */
function makeCore({
  events,
  ...parts
}: Parts): Core & { attach(watching: Watching, arrivals: Arrivals, lane: SecondLane): void } {
  let watching: Watching | null = null
  let arrivals: Arrivals | null = null
  let lane: SecondLane | null = null
  const core = {
    ...parts,
    tell: (event) => events.tell(event),
    changed: (...what) => {
      if (what.includes('library') || what.includes('settings')) core.shelf.forget()
      if (what.some((one) => one !== 'night')) core.judging.forget()
      core.nights.forget()
      events.changed(what)
    },
    isOutOfReach: (path) => watching?.isOutOfReach(path) ?? false,
    // Of what is watched the watcher tells, and sooner.
    isMissing: (path) => lane?.missing.has(path) === true && !watching?.watches(path),
    watches: () => watching?.states() ?? [],
    passedOver: (night) => watching?.passedOver(night) ?? [],
    watchAgain: async () => watching?.follow(),
    lookAgain: () => void watching?.lookAgain(),
    catchingUp: () => arrivals?.backlog ?? null,
    attach: (w: Watching, a: Arrivals, l: SecondLane) => void ([watching, arrivals, lane] = [w, a, l]),
  } as Core & {
    attach(w: Watching, a: Arrivals, l: SecondLane): void
    shelf: Shelf
    judging: Judging
    nights: NightBook
  }
  core.shelf = new Shelf(core.db, core.clock)
  core.judging = new Judging(core)
  core.nights = new NightBook(core)
  return core
}

export const systemZone = (): string => Intl.DateTimeFormat().resolvedOptions().timeZone || 'UTC'
export { backupsFolder }
