import type { FlatCheckAnswer, Run } from '../../../main/contract/index.ts'
import type { Client } from '../../client/client.svelte.ts'
import type { Troubles } from '../../client/troubles.svelte.ts'

/** More nights back than this, a flat is no fresh one. */
const NIGHTS = 6

/** One check of a fresh flat against the flat on the shelf. */
export class FlatCheck {
  readonly #client: Client
  readonly #troubles: Troubles
  #runs = $state.raw<readonly Run[] | null>(null)
  #answer = $state.raw<FlatCheckAnswer | null>(null)
  #busy = $state(false)

  constructor(client: Client, troubles: Troubles) {
    this.#client = client
    this.#troubles = troubles
  }

  /** Runs of flats of the last nights, newest first; null until they were looked for. */
  get runs() {
    return this.#runs
  }

  get answer() {
    return this.#answer
  }

  get busy() {
    return this.#busy
  }

  /** Looks for logged flats, night by night from the newest. */
  async find() {
    await this.#troubles.attempt('looking for flats', async () => {
      const { nights } = await this.#client.ask('nights', {})
      const newest = nights.toSorted((a, b) => b.night.localeCompare(a.night)).slice(0, NIGHTS)
      const found: Run[] = []
      for (const { night } of newest) {
        const { runs } = await this.#client.ask('tonight', { night })
        found.push(...runs.filter(({ kind, aside }) => kind === 'flat' && !aside))
        this.#runs = found.toSorted((a, b) => (b.lastAt ?? '').localeCompare(a.lastAt ?? ''))
      }
      this.#runs ??= []
    })
  }

  async check(frame: number) {
    this.#busy = true
    this.#answer =
      (await this.#troubles.attempt('checking the flat', () => this.#client.ask('checkFlat', { frame }))) ?? null
    this.#busy = false
  }
}
