import { renameSync, statSync } from 'node:fs'
import { join } from 'node:path'
import { Refusal } from '../contract/index.ts'
import { backUp, backUpNow, listBackups } from '../../db/backup.ts'
import type { Readable } from '../../db/handle.ts'
import type { Clock } from './clock.ts'
import type { Core } from './core.ts'
import { checkInThread } from './data-folder/check-thread.ts'

export const backupsFolder = (dataDir: string): string => join(dataDir, 'backups')

/**
 * A copy of a database that is about to be brought to this program's format: whole as far as `backUpNow` looks.
 * @returns its path
 * @throws Refusal where it cannot be made: then the database stays as it is
 */
export function backUpBefore(db: Readable, dataDir: string, clock: Clock): string {
  try {
    return backUpNow(db, backupsFolder(dataDir), clock.now())
  } catch (error) {
    throw new Refusal(
      `The log was written by an older Nightshelf and stays as it is, because it could not be backed up before the change (${(error as Error).message}): make room on the disk of "${dataDir}", check that it may be written, and start again.`,
    )
  }
}

const isSound = async (copy: string): Promise<boolean> => {
  try {
    await checkInThread(copy, { frames: 0, masters: 0 })
    return true
  } catch {
    return false
  }
}

const HOUR_MS = 3_600_000
const LOOK_MS = 10 * 60_000
/** Not before the first frames of a fresh start are logged and judged. */
const AFTER_START_MS = 5_000
/** A second start within this time needs no second copy: seven copies should reach back further than an evening of trying. */
const LEAST_APART_MS = HOUR_MS

/** Keeps checked copies of the database: one at start, one each dawn. */
export class BackupKeeper {
  readonly #core: Core
  #timers: NodeJS.Timeout[] = []
  #running: Promise<void> = Promise.resolve()
  #dawnOf = ''
  readonly #onDawn: (night: string) => void
  #unchecked: string | null

  /**
   * @param onDawn called once for each night when its copy is begun
   * @param unchecked a copy that was made before the log was changed: it is looked at closely now
   */
  constructor(core: Core, onDawn: (night: string) => void, unchecked: string | null) {
    this.#core = core
    this.#onDawn = onDawn
    this.#unchecked = unchecked
  }

  start(): void {
    // Started in the morning, the copy at start serves as dawn's.
    const night = this.#core.nights.current()
    if (this.#isDay(night)) this.#dawnOf = night
    this.#timers.push(setTimeout(() => this.#afterStart(), AFTER_START_MS).unref())
    this.#timers.push(setInterval(() => this.#atDawn(), LOOK_MS).unref())
  }

  stop(): void {
    for (const timer of this.#timers) clearTimeout(timer)
  }

  async settled(): Promise<void> {
    await this.#running
  }

  /** One after another; a copy that fails is told as a job that failed, and the next one is tried in its turn. */
  backUp(): Promise<void> {
    const { db, dataDir, clock, closing } = this.#core
    this.#running = this.#running.then(async () => {
      if (closing.aborted) return
      try {
        await backUp(db, backupsFolder(dataDir), clock.now(), { signal: closing, check: checkInThread })
        this.#tell('done', null)
      } catch (error) {
        if (closing.aborted) return
        this.#tell(
          'failed',
          `The log could not be backed up (${(error as Error).message}): check the disk of the data folder.`,
        )
      }
    })
    return this.#running
  }

  #tell(state: 'done' | 'failed', text: string | null): void {
    const title = 'Backing up the log'
    this.#core.tell({ event: 'progress', job: 'backup', title, done: 1, total: 1, leftS: null, state, text })
  }

  /** A copy that a person asked for. @returns its path. @throws Refusal, in a sentence */
  backUpAsked(): Promise<string> {
    const { db, dataDir, clock, closing } = this.#core
    const made = this.#running.then(() =>
      backUp(db, backupsFolder(dataDir), clock.now(), { signal: closing, check: checkInThread }),
    )
    this.#running = made.then(
      () => {},
      () => {},
    )
    return made.catch((error: Error) => {
      if (error instanceof Refusal) throw error
      throw new Refusal(`The log could not be backed up (${error.message}): check the disk of the data folder.`)
    })
  }

  #afterStart(): void {
    const unchecked = this.#unchecked
    this.#unchecked = null
    if (unchecked === null) return this.#unlessFresh()
    this.#running = this.#running.then(async () => {
      if ((await isSound(unchecked)) || this.#core.closing.aborted) return
      // Not among the copies any more: it would take the place of a sound one.
      renameSync(unchecked, `${unchecked}.damaged`)
      this.#tell(
        'failed',
        'The copy that was made before the log was brought to this version is damaged; another one is made now: check the disk of the data folder.',
      )
      void this.backUp()
    })
  }

  #unlessFresh(): void {
    const newest = listBackups(backupsFolder(this.#core.dataDir)).at(-1)
    const ageMs = newest ? this.#core.clock.now().getTime() - statSync(newest).mtimeMs : Infinity
    if (ageMs >= LEAST_APART_MS) void this.backUp()
  }

  #atDawn(): void {
    const night = this.#core.nights.current()
    if (night === this.#dawnOf || !this.#isDay(night)) return
    this.#dawnOf = night
    void this.backUp()
    this.#onDawn(night)
  }

  /** Whether a night's Sun has risen; where no site is known, whether its last six hours have begun. */
  #isDay(night: string): boolean {
    const { nights, clock } = this.#core
    const rise = nights.page(night).sun?.sunriseAt
    return clock.now().getTime() >= (rise ? Date.parse(rise) : nights.endOf(night) - 6 * HOUR_MS)
  }
}
