import type { Answer } from '../../../main/contract/index.ts'
import type { Client } from '../../client/client.svelte.ts'
import { coverOf, type NightCover } from './cover.ts'

/** What each night was of and what it still lacks: asked night by night, one at a time, so that nothing else waits. */
export class Covers {
  readonly #client: Client
  #known = $state.raw<Readonly<Record<string, NightCover>>>({})
  #wanted: string[] = []
  #asking = false

  constructor(client: Client) {
    this.#client = client
  }

  of(night: string): NightCover | undefined {
    return this.#known[night]
  }

  /** Those not known yet are asked for; the newest wishes come first. */
  want(nights: readonly string[]) {
    this.#wanted = [
      ...nights.filter((night) => !(night in this.#known)),
      ...this.#wanted.filter((n) => !nights.includes(n)),
    ]
    void this.#askAll()
  }

  /** What was judged before may be judged otherwise now: asked again, and shown as it was until then. */
  refresh() {
    this.#wanted = [...this.#wanted, ...Object.keys(this.#known).filter((night) => !this.#wanted.includes(night))]
    void this.#askAll()
  }

  async #askAll() {
    if (this.#asking) return
    this.#asking = true
    for (let night = this.#wanted.shift(); night; night = this.#wanted.shift()) {
      try {
        const answer: Answer<'tonight'> = await this.#client.ask('tonight', { night })
        this.#known = { ...this.#known, [night]: coverOf(answer.runs) }
      } catch {
        // The list itself says what is wrong with the log or the connection; it is asked again when that is back.
        this.#wanted = []
      }
    }
    this.#asking = false
  }
}
