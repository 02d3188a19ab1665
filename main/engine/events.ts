import { eventSchema, type EngineEvent, type EventOf } from '../contract/index.ts'

type What = EventOf<'changed'>['what'][number]

/** A burst of changes is told as one. */
const QUIET_MS = 60

/** The one stream of events. A listener that throws keeps none of the others from hearing. */
export class Events {
  readonly #listeners = new Set<(event: EngineEvent) => void>()
  readonly #changed = new Set<What>()
  #timer: NodeJS.Timeout | null = null

  listen(listener: (event: EngineEvent) => void): () => void {
    this.#listeners.add(listener)
    return () => this.#listeners.delete(listener)
  }

  tell(event: EngineEvent): void {
    if (this.#listeners.size === 0) return
    const checked = eventSchema.parse(event)
    for (const listener of this.#listeners) {
      try {
        listener(checked)
      } catch (error) {
        // Thrown again where nobody waits for it: the process says what happened, the others hear the event.
        queueMicrotask(() => {
          throw error
        })
      }
    }
  }

  changed(what: readonly What[]): void {
    for (const one of what) this.#changed.add(one)
    this.#timer ??= setTimeout(() => this.#tellChanged(), QUIET_MS).unref()
  }

  close(): void {
    if (this.#timer) clearTimeout(this.#timer)
    this.#listeners.clear()
  }

  #tellChanged(): void {
    this.#timer = null
    const what = [...this.#changed]
    this.#changed.clear()
    this.tell({ event: 'changed', what })
  }
}
