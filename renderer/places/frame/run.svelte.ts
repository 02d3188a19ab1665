import type { Answer } from '../../../main/contract/index.ts'
import type { Client } from '../../client/client.svelte.ts'
import { Live } from '../../client/live.svelte.ts'

export type RunFrame = Answer<'run'>['frames'][number]

/** The run of a frame: its frames by time, and which stand beside this one. */
export class RunState {
  readonly id: number
  readonly #live: Live<'run'>
  readonly #at = $derived.by(() => this.frames.findIndex((frame) => frame.id === this.id))

  constructor(client: Client, id: number) {
    this.id = id
    this.#live = new Live(client, 'run', { frame: id }, ['night'])
  }

  get frames(): readonly RunFrame[] {
    return this.#live.answer?.frames ?? []
  }

  /** Ids; null at either end. */
  get previous(): number | null {
    return this.frames[this.#at - 1]?.id ?? null
  }

  get next(): number | null {
    return this.#at < 0 ? null : (this.frames[this.#at + 1]?.id ?? null)
  }

  /** "12 of 37"; null until known. */
  get place(): { number: number; of: number } | null {
    return this.#at < 0 ? null : { number: this.#at + 1, of: this.frames.length }
  }

  start(): () => void {
    return this.#live.start()
  }
}
