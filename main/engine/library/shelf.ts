import type { Master } from '../../contract/index.ts'
import type { Readable } from '../../../db/handle.ts'
import { ageDays, allMasters } from '../../../db/tables/masters.ts'
import type { Clock } from '../clock.ts'

/** Ages in masters are whole days: told anew at least this often. */
const FRESH_MS = 60_000

/** The masters, kept in memory between changes: every landed frame asks for them. A cache: `forget` drops it. */
export class Shelf {
  readonly #db: Readable
  readonly #clock: Clock
  #masters: Master[] | null = null
  #toldMs = 0
  readonly #since = Date.now().toString(36)
  #changes = 0

  constructor(db: Readable, clock: Clock) {
    this.#db = db
    this.#clock = clock
  }

  /** All of them, retired and damaged ones included: the same list until something changes. */
  get masters(): readonly Master[] {
    const now = this.#clock.now()
    if (!this.#masters) {
      this.#masters = allMasters(this.#db, now)
      this.#toldMs = now.getTime()
    } else if (Math.abs(now.getTime() - this.#toldMs) > FRESH_MS) {
      for (const master of this.#masters) master.ageDays = ageDays(master.madeAt, now)
      this.#toldMs = now.getTime()
    }
    return this.#masters
  }

  /** Another after each change, and in another process. */
  get version(): string {
    return `${this.#since}-${this.#changes}`
  }

  forget(): void {
    this.#masters = null
    this.#changes++
  }
}
