import { Refusal } from '../../main/contract/refusal.ts'
import { Disconnected } from './transport.ts'

export interface Trouble {
  id: number
  text: string
}

/** One sentence for a person, from whatever was thrown while `doing` ("adding the master"). */
export function sentenceFor(error: unknown, doing: string): string {
  if (error instanceof Refusal) return error.message
  if (error instanceof Disconnected)
    return `The connection was lost while ${doing}. It is made again by itself: then look whether it was done, and try once more if not.`
  const what = error instanceof Error ? error.message : String(error)
  return `Nightshelf made a mistake while ${doing} (${what}). Nothing that was logged is lost; please try again.`
}

/** The one funnel for errors that are shown to a person. */
export class Troubles {
  #list = $state.raw<Trouble[]>([])
  #nextId = 1

  get list() {
    return this.#list
  }

  show(text: string) {
    if (this.#list.some((trouble) => trouble.text === text)) return
    this.#list = [...this.#list, { id: this.#nextId++, text }]
  }

  dismiss(id: number) {
    this.#list = this.#list.filter((trouble) => trouble.id !== id)
  }

  clear() {
    this.#list = []
  }

  /** Runs `work`; what it throws is shown, and undefined returned. */
  async attempt<T>(doing: string, work: () => Promise<T>): Promise<T | undefined> {
    try {
      return await work()
    } catch (error) {
      this.show(sentenceFor(error, doing))
      return undefined
    }
  }
}
