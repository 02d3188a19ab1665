import { Refusal, type Master } from '../../contract/index.ts'
import type { Inspector } from '../../inspect/inspector.ts'
import type { Integrator } from '../../integrate/integrate.ts'
import { FileProblem } from '../../measure/crew.ts'
import type { Core } from '../core.ts'
import { createDescriber } from '../ingest/describer.ts'
import { learnDarks } from '../inspect/sensors.ts'
import { keepMasterCards } from './describe-masters-again.ts'
import { keepLook, lacksFigures, lookAt } from './look.ts'

/** While many are looked at, the shelf shows what is new at most this often. */
const TELL_MS = 2_000

interface How {
  signal?: AbortSignal | undefined
  onProgress?: ((done: number, total: number) => void) | undefined
}

/**
 * What taking a master in does not wait for: its figures and its small picture, and of darks what near matches cost. One master after
 * another; what is done stands in the database, what is not is found again there.
 */
export class MasterLane {
  readonly #core: Core
  readonly #integrator: () => Integrator
  readonly #inspector: () => Inspector
  #running: Promise<void> | null = null
  #again = false
  /** Files that could not be read: not tried again before the next start. */
  readonly #unreadable = new Set<string>()

  constructor(core: Core, integrator: () => Integrator, inspector: () => Inspector) {
    this.#core = core
    this.#integrator = integrator
    this.#inspector = inspector
  }

  /** There may be a new master: goes on in the background until nothing is lacking. */
  wake(): void {
    this.#again = true
    this.#running ??= this.#run().finally(() => (this.#running = null))
  }

  /** Does it now. Ends early, without a word, when stopped. */
  async measure({ signal = this.#core.closing, onProgress }: How = {}): Promise<void> {
    const stop = AbortSignal.any([signal, this.#core.closing])
    await keepMasterCards(this.#core, createDescriber(this.#core.db, this.#core.zone))
    await this.#look(stop, onProgress)
    if (!stop.aborted) await learnDarks(this.#core, this.#inspector(), stop)
  }

  async close(): Promise<void> {
    await this.#running
  }

  async #run(): Promise<void> {
    const { closing } = this.#core
    while (this.#again && !closing.aborted) {
      this.#again = false
      await this.measure().catch((error: unknown) => {
        if (!closing.aborted) process.stderr.write(`A fault while looking at masters: ${String(error)}\n`)
      })
    }
  }

  async #look(signal: AbortSignal, onProgress: How['onProgress']): Promise<void> {
    const lacking = this.#core.shelf.masters.filter(
      (master) => lacksFigures(master) && master.state !== 'damaged' && !this.#unreadable.has(master.sha256),
    )
    let [isUntold, toldMs] = [false, performance.now()]
    const tell = () => {
      if (isUntold) this.#core.changed('library', 'night')
      ;[isUntold, toldMs] = [false, performance.now()]
    }
    for (const [done, master] of lacking.entries()) {
      if (signal.aborted) break
      onProgress?.(done, lacking.length)
      if (await this.#one(master, signal)) isUntold = true
      if (performance.now() - toldMs >= TELL_MS) tell()
    }
    tell()
  }

  async #one(master: Master, signal: AbortSignal): Promise<boolean> {
    try {
      const looked = await this.#integrator().look(master.path, lookAt(master), signal)
      return !signal.aborted && keepLook(this.#core, master, looked)
    } catch (error) {
      if (signal.aborted) return false
      if (!(error instanceof FileProblem || error instanceof Refusal)) throw error
      this.#unreadable.add(master.sha256)
      return false
    }
  }
}
