/** What is done once the database is closed and before the engine starts again: the only time at which it may be replaced or moved. */
export type LastWork = () => LastWord | Promise<LastWord>

/** How that went: one sentence, heard by every page. */
export interface LastWord {
  job: string
  title: string
  state: 'done' | 'failed'
  text: string | null
}

/** The engine's way out: whoever needs it closed leaves work to be done then. */
export class Leaving {
  #work: LastWork | null = null
  #go!: () => void
  /** Resolves when the engine should close and be started again. */
  readonly asked = new Promise<void>((resolve) => (this.#go = resolve))

  get isAsked(): boolean {
    return this.#work !== null
  }

  ask(work: LastWork): void {
    this.#work = work
    this.#go()
  }

  /** Does what was left to do; null where nothing was. */
  async finish(): Promise<LastWord | null> {
    return (await this.#work?.()) ?? null
  }
}
