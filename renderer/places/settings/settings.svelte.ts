import type { Ask } from '../../../main/contract/index.ts'
import type { PageRequestName } from '../../../main/contract/wire.ts'
import { Live } from '../../client/live.svelte.ts'
import type { Client } from '../../client/client.svelte.ts'
import type { Troubles } from '../../client/troubles.svelte.ts'

/** What can be set, and a way to change it that shows what went wrong and asks again. */
export class SettingsState {
  readonly #client: Client
  readonly #troubles: Troubles
  readonly #settings: Live<'settings'>
  readonly #rigs: Live<'rigs'>
  readonly #cameras: Live<'cameras'>
  readonly #questions: Live<'programQuestions'>
  readonly #undo: Live<'undoSteps'>
  #busy = $state(false)
  #said = $state('')

  constructor(client: Client, troubles: Troubles) {
    this.#client = client
    this.#troubles = troubles
    this.#settings = new Live(client, 'settings', {}, ['settings'])
    this.#rigs = new Live(client, 'rigs', {}, ['settings', 'folders', 'night'])
    this.#cameras = new Live(client, 'cameras', {}, ['settings', 'night'])
    this.#questions = new Live(client, 'programQuestions', {}, ['settings', 'night'])
    this.#undo = new Live(client, 'undoSteps', {}, ['settings', 'library'])
  }

  get settings() {
    return this.#settings.answer?.settings
  }

  get failure() {
    return this.#settings.failure
  }

  get rigs() {
    return this.#rigs.answer?.rigs ?? []
  }

  get cameras() {
    return this.#cameras.answer?.cameras ?? []
  }

  get questions() {
    return this.#questions.answer?.questions ?? []
  }

  get undoSteps() {
    return this.#undo.answer?.steps ?? []
  }

  get busy() {
    return this.#busy
  }

  /** What was last done, for those who hear the page. */
  get said() {
    return this.#said
  }

  start(): () => void {
    const offs = this.#lives.map((live) => live.start())
    return () => offs.forEach((off) => off())
  }

  /** Changes something; true if it was done. `doing` as in "keeping the tolerance", `done` as a sentence. */
  async change<R extends PageRequestName>(request: R, input: Ask<R>, doing: string, done: string): Promise<boolean> {
    this.#busy = true
    const answer = await this.#troubles.attempt(doing, () => this.#client.ask(request, input))
    this.#busy = false
    this.#said = answer === undefined ? '' : done
    await Promise.all(this.#lives.map((live) => live.refresh()))
    return answer !== undefined
  }

  get #lives() {
    return [this.#settings, this.#rigs, this.#cameras, this.#questions, this.#undo]
  }
}
