import { dataVersion } from '../../../db/handle.ts'
import type { Core } from '../core.ts'

const POLL_MS = 500

/** Notices what another process (the command line) has written to the same database. */
export class NeighbourWatch {
  readonly #core: Core
  readonly #onNews: () => void
  #version = 0
  #timer: NodeJS.Timeout | null = null

  /** @param onNews there may be frames to measure */
  constructor(core: Core, onNews: () => void) {
    this.#core = core
    this.#onNews = onNews
  }

  start(): void {
    this.#version = dataVersion(this.#core.db)
    this.#timer = setInterval(() => this.#look(), POLL_MS)
    this.#timer.unref()
  }

  stop(): void {
    if (this.#timer) clearInterval(this.#timer)
  }

  #look(): void {
    const version = dataVersion(this.#core.db)
    if (version === this.#version) return
    this.#version = version
    void this.#core.watchAgain()
    this.#core.changed('night', 'library', 'folders', 'settings')
    this.#onNews()
  }
}
