import type { DarkCheckAnswer, FlatCheckAnswer, Master, Run } from '../../../main/contract/index.ts'
import type { Client } from '../../client/client.svelte.ts'
import type { Troubles } from '../../client/troubles.svelte.ts'
import { lookBack } from './look-back.ts'
import { mayCheck } from './words.ts'

export type CheckedKind = 'flat' | 'dark'
export type FrameCheckAnswer = FlatCheckAnswer | DarkCheckAnswer

/** Holds a frame of the log against the master that it should match, or against the one that is named. */
export const checkOf = async (
  client: Client,
  kind: CheckedKind,
  ask: { frame: number; master?: number },
): Promise<FrameCheckAnswer> => (kind === 'flat' ? client.ask('checkFlat', ask) : client.ask('checkDark', ask))

/** One check of a fresh frame against the flat or dark on the shelf. */
export class FrameCheck {
  readonly #client: Client
  readonly #troubles: Troubles
  readonly #kind: CheckedKind
  readonly #master: Master | null
  #runs = $state.raw<readonly Run[] | null>(null)
  #answer = $state.raw<FrameCheckAnswer | null>(null)
  #busy = $state(false)
  #of = $state.raw<Run | null>(null)

  /** `master`: hold frames against this one; without, against the one that each of them should match. */
  constructor(client: Client, troubles: Troubles, kind: CheckedKind, master: Master | null = null) {
    this.#client = client
    this.#troubles = troubles
    this.#kind = kind
    this.#master = master
  }

  /** Runs of the last nights that may serve, newest first; null until they were looked for. */
  get runs() {
    return this.#runs
  }

  get answer() {
    return this.#answer
  }

  /** The run of the frame that was checked. */
  get of() {
    return this.#of
  }

  get busy() {
    return this.#busy
  }

  /** Looks for logged frames, night by night from the newest. */
  async find() {
    this.#runs = null
    await this.#troubles.attempt(`looking for ${this.#kind}s`, async () => {
      await lookBack(this.#client, (runs) => {
        const found = [...(this.#runs ?? []), ...runs.filter((run) => mayCheck(run, this.#kind, this.#master))]
        this.#runs = found.toSorted((a, b) => (b.lastAt ?? '').localeCompare(a.lastAt ?? ''))
      })
      this.#runs ??= []
    })
  }

  async check(frame: number) {
    this.#busy = true
    this.#of = this.#runs?.find(({ frameIds }) => frameIds.includes(frame)) ?? null
    const ask = { frame, ...(this.#master && { master: this.#master.id }) }
    this.#answer =
      (await this.#troubles.attempt(`checking the ${this.#kind}`, () => checkOf(this.#client, this.#kind, ask))) ?? null
    this.#busy = false
  }
}
