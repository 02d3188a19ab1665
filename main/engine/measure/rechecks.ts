import { immediately } from '../../../db/handle.ts'
import { forgetMeasured, measuredOf } from '../../../db/tables/frame-figures.ts'
import { frameById, frameIdsOfNight, setMeasured } from '../../../db/tables/frames.ts'
import type { Core } from '../core.ts'
import { hashFile } from '../library/hash-file.ts'

/** A program that still had a frame open when it was measured has closed it by then. */
const AFTER_MS = 60_000

/**
 * Hashes files again after a while: what was measured must still be what stands there, even where size and times say nothing.
 * A frame that is another by then is measured anew, never logged a second time.
 */
export class Rechecks {
  readonly #core: Core
  readonly #onChanged: () => void
  readonly #timers = new Map<number, NodeJS.Timeout>()
  #running: Promise<unknown> = Promise.resolve()

  constructor(core: Core, onChanged: () => void) {
    this.#core = core
    this.#onChanged = onChanged
  }

  /** Looks at this frame once more in a minute. */
  soon(id: number): void {
    if (this.#timers.has(id) || this.#core.closing.aborted) return
    const timer = setTimeout(() => {
      this.#timers.delete(id)
      this.#queue([id])
    }, AFTER_MS).unref()
    this.#timers.set(id, timer)
  }

  /** Looks at every measured frame of a night, at dawn. Resolves with how many are others now. */
  night(night: string): Promise<number> {
    return this.#queue(frameIdsOfNight(this.#core.db, night))
  }

  async close(): Promise<void> {
    for (const timer of this.#timers.values()) clearTimeout(timer)
    await this.#running
  }

  /** One file at a time: the disk belongs to the camera. */
  #queue(ids: number[]): Promise<number> {
    const changed = this.#running.then(async () => {
      let count = 0
      for (const id of ids) if (!this.#core.closing.aborted && (await this.#isAnother(id))) count++
      if (count > 0) this.#onChanged()
      return count
    })
    // Whoever asked hears what went wrong; the next in the queue begins all the same.
    this.#running = changed.catch(() => {})
    return changed
  }

  async #isAnother(id: number): Promise<boolean> {
    const { db, closing } = this.#core
    const frame = frameById(db, id)
    const hash = measuredOf(db, id)?.sha256
    if (!frame || !hash || frame.state !== 'ok' || this.#core.isOutOfReach(frame.path)) return false
    const now = await hashFile(frame.path, closing).catch(() => null)
    // A file that cannot be read at the moment is the watcher's to tell of.
    if (now === null || closing.aborted || now.sha256 === hash.toString('hex')) return false
    immediately(db, () => {
      forgetMeasured(db, id)
      setMeasured(db, id, null)
    })
    return true
  }
}
