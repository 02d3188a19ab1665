import { Refusal } from '../../contract/index.ts'
import { allFolders } from '../../../db/tables/folders.ts'
import type { Core } from '../core.ts'
import { checkInThread } from './check-thread.ts'
import type { LastWord } from './leaving.ts'
import { checkTarget, copyFiles, dropArriving, finishMove } from './move.ts'

const JOB = 'move'
const TITLE = 'Moving log and masters'
const STOPPED = 'Moving was stopped: everything is where it was, and nothing is left in the new folder.'

/** The one move of the data folder: copies while the engine goes on, then asks it to close for the last step. */
export class Mover {
  readonly #core: Core
  #running: { stop: AbortController; done: Promise<void> } | null = null

  constructor(core: Core) {
    this.#core = core
  }

  get isMoving(): boolean {
    return this.#running !== null
  }

  refuseWhileMoving(): void {
    if (this.#running) throw new Refusal('The data folder is being moved: wait for that to end, or stop it.')
  }

  /** @throws Refusal where it cannot be moved there; later troubles are told as events */
  start(to: string): void {
    const { db, dataDir, closing } = this.#core
    this.refuseWhileMoving()
    checkTarget(
      dataDir,
      to,
      allFolders(db).flatMap(({ path, watched }) => (watched ? [path] : [])),
    )
    const stop = new AbortController()
    const done = this.#move(to, AbortSignal.any([stop.signal, closing])).finally(() => {
      this.#running = null
      this.#core.changed('settings')
    })
    this.#running = { stop, done }
  }

  async stop(): Promise<boolean> {
    const running = this.#running
    running?.stop.abort(new Refusal(STOPPED))
    await running?.done
    return running !== null
  }

  async close(): Promise<void> {
    // The last step runs after everything else has ended, and is not waited for here.
    if (!this.#core.leaving.isAsked) await this.stop()
  }

  async #move(to: string, signal: AbortSignal): Promise<void> {
    const { dataDir, clock, tell, leaving } = this.#core
    const progress = (done: number, total: number) =>
      tell({ event: 'progress', job: JOB, title: TITLE, done, total, leftS: null, state: 'running', text: null })
    try {
      progress(0, 1)
      await copyFiles(dataDir, to, signal, progress)
      signal.throwIfAborted()
      leaving.ask(async () => {
        try {
          await finishMove(dataDir, to, clock.now(), checkInThread)
          return lastWord('done', null)
        } catch (error) {
          dropArriving(to)
          return lastWord('failed', sayWhy(error, to))
        }
      })
    } catch (error) {
      dropArriving(to)
      const state = signal.aborted ? 'stopped' : 'failed'
      const text = signal.aborted ? STOPPED : sayWhy(error, to)
      tell({ event: 'progress', job: JOB, title: TITLE, done: 0, total: 1, leftS: null, state, text })
    }
  }
}

const lastWord = (state: LastWord['state'], text: string | null): LastWord => ({ job: JOB, title: TITLE, state, text })

const sayWhy = (error: unknown, to: string): string =>
  error instanceof Refusal
    ? error.message
    : `Everything is where it was: "${to}" could not be written (${(error as Error).message}).`
