import type { Kind } from '../../../main/contract/index.ts'
import type { AsideReason, LightSource } from '../../../main/contract/words.ts'
import type { Client } from '../../client/client.svelte.ts'
import type { Troubles } from '../../client/troubles.svelte.ts'
import { counted } from '../../parts/format.ts'
import { asideWord, kindWord } from '../../parts/labels.ts'
import { sourceWord } from '../flats/now.ts'

const saidLit = (source: LightSource | null) =>
  source ? `Said to be lit by ${sourceWord[source]}.` : 'What lit it is again what headers say, or not known.'

/** What a person says of frames, and the way back of what was said last. */
export class HandsState {
  readonly #client: Client
  readonly #troubles: Troubles
  #busy = $state(false)
  #said = $state('')
  #step = $state<number | null>(null)

  constructor(client: Client, troubles: Troubles) {
    this.#client = client
    this.#troubles = troubles
  }

  get busy() {
    return this.#busy
  }

  /** What was done last, as a sentence. */
  get said() {
    return this.#said
  }

  get canTakeBack() {
    return this.#step !== null
  }

  setAside = (frames: number[], why: AsideReason) =>
    this.#do('setting frames aside', `${counted(frames.length, 'frame')} set aside: ${asideWord[why]}.`, () =>
      this.#client.ask('setAside', { frames, why }),
    )

  putBack = (frames: number[]) =>
    this.#do('putting frames back', `${counted(frames.length, 'frame')} put back: what they need counts again.`, () =>
      this.#client.ask('unsetAside', { frames }),
    )

  setKind = (frames: number[], kind: Kind | null) =>
    this.#do(
      'saying what a frame is',
      kind ? `Said to be of the kind ${kindWord[kind]}.` : 'Its kind is again what header or name say.',
      () => this.#client.ask('setKind', { frames, kind }),
    )

  setLight = (frames: number[], source: LightSource | null) =>
    this.#do('keeping what lit the flats', saidLit(source), () =>
      this.#client.ask('setLightSource', { frames, source }),
    )

  /** Of a master; where its frames are in the log, of these. */
  setMasterLight = (id: number, source: LightSource | null) =>
    this.#do('keeping what lit the flat', saidLit(source), async () => {
      const { step } = await this.#client.ask('setMasterLight', { id, source })
      return { frames: 0, step }
    })

  takeBack = () => {
    const id = this.#step
    if (id === null) return
    return this.#do('taking it back', 'Taken back: all is as it was.', async () => {
      await this.#client.ask('undo', { id })
      return { frames: 0, step: null }
    })
  }

  async #do(doing: string, said: string, work: () => Promise<{ frames: number; step?: number | null }>) {
    this.#busy = true
    const done = await this.#troubles.attempt(doing, work)
    if (done) {
      this.#said = said
      this.#step = done.step ?? null
    }
    this.#busy = false
  }
}
