import { statSync } from 'node:fs'
import { join } from 'node:path'
import { Refusal } from '../contract/index.ts'
import { backUp, backUpNow, listBackups } from '../../db/backup.ts'
import type { Readable } from '../../db/handle.ts'
import type { Clock } from './clock.ts'
import type { Core } from './core.ts'
import { checkInThread } from './data-folder/check-thread.ts'

export const backupsFolder = (dataDir: string): string => join(dataDir, 'backups')

/**
 * A checked copy of a database that is about to be brought to this program's format.
 * @throws Refusal where it cannot be made: then the database stays as it is
 */
export function backUpBefore(db: Readable, dataDir: string, clock: Clock): void {
  try {
    backUpNow(db, backupsFolder(dataDir), clock.now())
  } catch (error) {
    throw new Refusal(
      `The log was written by an older Nightshelf and stays as it is, because it could not be backed up before the change (${(error as Error).message}): make room on the disk of "${dataDir}", check that it may be written, and start again.`,
    )
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

  /** @param onDawn called once for each night when its copy is begun */
  constructor(core: Core, onDawn: (night: string) => void) {
    this.#core = core
    this.#onDawn = onDawn
  }

  start(): void {
    // Started in the morning, the copy at start serves as dawn's.
    const night = this.#core.nights.current()
    if (this.#isDay(night)) this.#dawnOf = night
    this.#timers.push(setTimeout(() => this.#unlessFresh(), AFTER_START_MS).unref())
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
    const { db, dataDir, clock, tell, closing } = this.#core
    this.#running = this.#running.then(async () => {
      if (closing.aborted) return
      const tellState = (state: 'done' | 'failed', text: string | null) =>
        tell({
          event: 'progress',
          job: 'backup',
          title: 'Backing up the log',
          done: 1,
          total: 1,
          leftS: null,
          state,
          text,
        })
      try {
        await backUp(db, backupsFolder(dataDir), clock.now(), { signal: closing, check: checkInThread })
        tellState('done', null)
      } catch (error) {
        if (closing.aborted) return
        tellState(
          'failed',
          `The log could not be backed up (${(error as Error).message}): check the disk of the data folder.`,
        )
      }
    })
    return this.#running
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
