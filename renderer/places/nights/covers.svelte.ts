import type { Answer } from '../../../main/contract/index.ts'
import type { Client } from '../../client/client.svelte.ts'
import { coverOf, type NightCover } from './cover.ts'

/** Between two times of asking every shown night again. */
const PAUSE_MS = 15_000

/** What each night was of and what it still lacks: asked night by night, one at a time, so that nothing else waits. */
export class Covers {
  readonly #client: Client
  #known = $state.raw<Readonly<Record<string, NightCover>>>({})
  #wanted: string[] = []
  #asking = false
  #again: ReturnType<typeof setTimeout> | undefined
  #refreshedAt = -Infinity

  constructor(client: Client) {
    this.#client = client
  }

  /** Nobody looks any more. */
  stop() {
    clearTimeout(this.#again)
    this.#wanted = []
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

  /**
   * What was judged before may be judged otherwise now: asked again, and shown as it was until then. Where a backlog changes something many times a
   * second, once in a while: a month of nights asked without a pause would keep the engine from everything else.
   */
  refresh() {
    clearTimeout(this.#again)
    const waitMs = this.#refreshedAt + PAUSE_MS - performance.now()
    if (waitMs > 0) return void (this.#again = setTimeout(() => this.refresh(), waitMs))
    this.#refreshedAt = performance.now()
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
