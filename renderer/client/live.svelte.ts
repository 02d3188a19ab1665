import type { Answer, Ask } from '../../main/contract/index.ts'
import type { EventOf } from '../../main/contract/events.ts'
import type { PageRequestName } from '../../main/contract/wire.ts'
import type { Client } from './client.svelte.ts'
import { sentenceFor } from './troubles.svelte.ts'
import { Disconnected } from './transport.ts'

export type Topic = EventOf<'changed'>['what'][number]

/** So many changes one upon another are each asked about at once; a backlog makes many more. */
const AT_ONCE = 4
/** Then this long from one answer to the next question, so that a click need not wait behind them. */
const PAUSE_MS = 500
/** After so long without a question the changes no longer follow one upon another. */
const CALM_MS = 2000

/**
 * An answer that keeps itself fresh: asked when started, again when one of its topics changes, and after each
 * reconnection. While one request is under way, any number of changes make one more, so a burst never piles up; where the
 * changes go on and on, it is asked again after a pause.
 */
export class Live<R extends PageRequestName> {
  readonly #client: Client
  readonly #request: R
  readonly #input: Ask<R>
  readonly #topics: readonly Topic[]
  #answer = $state.raw<Answer<R>>()
  #failure = $state<string | null>(null)
  #asking = false
  #again = false
  #changed = false
  #started = false
  #inARow = 0
  #answeredAt = -Infinity
  #later: ReturnType<typeof setTimeout> | undefined

  constructor(client: Client, request: R, input: Ask<R>, topics: readonly Topic[]) {
    this.#client = client
    this.#request = request
    this.#input = input
    this.#topics = topics
    this.#answer = client.remembered(request, input)
  }

  get answer() {
    return this.#answer
  }

  /** Why there is no fresh answer, as a sentence; null while all is well. */
  get failure() {
    return this.#failure
  }

  /** Begins to keep the answer fresh; returns what ends it (as an effect wants it). */
  start(): () => void {
    this.#started = true
    const offs = [
      this.#client.on('changed', ({ what }) => {
        if (what.some((topic) => this.#topics.includes(topic))) this.refreshSoon()
      }),
      this.#client.whenUsable(() => void this.refresh()),
    ]
    return () => {
      this.#started = false
      this.#waitNoMore()
      for (const off of offs) off()
    }
  }

  async refresh(): Promise<void> {
    if (this.#asking) {
      this.#again = true
      return
    }
    this.#asking = true
    this.#waitNoMore()
    do {
      this.#again = false
      this.#changed = false
      await this.#askOnce()
    } while (this.#again && this.#started)
    this.#asking = false
    this.#answeredAt = performance.now()
    if (this.#changed && this.#started) this.refreshSoon()
  }

  /** Something changed: asked again at once, or after a pause where much changes. */
  refreshSoon() {
    this.#changed = true
    if (this.#asking || this.#later !== undefined) return
    const sinceMs = performance.now() - this.#answeredAt
    this.#inARow = sinceMs > CALM_MS ? 1 : this.#inARow + 1
    if (this.#inARow <= AT_ONCE || sinceMs >= PAUSE_MS) void this.refresh()
    else this.#later = setTimeout(() => void this.refresh(), PAUSE_MS - sinceMs)
  }

  #waitNoMore() {
    clearTimeout(this.#later)
    this.#later = undefined
  }

  async #askOnce() {
    try {
      this.#answer = await this.#client.ask(this.#request, this.#input)
      this.#client.remember(this.#request, this.#input, this.#answer)
      this.#failure = null
    } catch (error) {
      // A lost connection has its own line on the page, and the answer is asked again when it is back.
      if (!(error instanceof Disconnected)) this.#failure = sentenceFor(error, 'reading the log')
    }
  }
}
