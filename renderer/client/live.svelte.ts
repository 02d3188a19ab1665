import type { Answer, Ask } from '../../main/contract/index.ts'
import type { EventOf } from '../../main/contract/events.ts'
import type { PageRequestName } from '../../main/contract/wire.ts'
import type { Client } from './client.svelte.ts'
import { sentenceFor } from './troubles.svelte.ts'
import { Disconnected } from './transport.ts'

export type Topic = EventOf<'changed'>['what'][number]

/**
 * An answer that keeps itself fresh: asked when started, again when one of its topics changes, and after each
 * reconnection. While one request is under way, any number of changes make one more, so a burst never piles up.
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
  #started = false

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
        if (what.some((topic) => this.#topics.includes(topic))) void this.refresh()
      }),
      this.#client.whenUsable(() => void this.refresh()),
    ]
    return () => {
      this.#started = false
      for (const off of offs) off()
    }
  }

  async refresh(): Promise<void> {
    if (this.#asking) {
      this.#again = true
      return
    }
    this.#asking = true
    do {
      this.#again = false
      await this.#askOnce()
    } while (this.#again && this.#started)
    this.#asking = false
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
