import type { Answer, MasterAnswers } from '../../../main/contract/index.ts'
import type { Client } from '../../client/client.svelte.ts'
import type { Troubles } from '../../client/troubles.svelte.ts'

type Refused = Answer<'addMasters'>['refused'][number]
type Field = keyof MasterAnswers

/** Fields that a person may tell, in the order in which they are asked. */
export const FIELDS: readonly Field[] = [
  'kind',
  'camera',
  'exposureS',
  'tempC',
  'gain',
  'offset',
  'filter',
  'frames',
  'scale',
  'subtracted',
]

const numeric: readonly Field[] = ['exposureS', 'tempC', 'frames']
/** Numbers for most cameras, labels for some. */
const either: readonly Field[] = ['gain', 'offset']
const isField = (name: string): name is Field => (FIELDS as readonly string[]).includes(name)

/** "−10,5" as people type it: a comma, a true minus sign. */
const parsed = (text: string) => Number(text.trim().replace(',', '.').replace('\u2212', '-'))

/** What was typed as the contract wants it; null where a number is not one. Empty fields are left out. */
export function answersFrom(typed: Partial<Record<Field, string>>): MasterAnswers | { wrong: Field } {
  const answers: Record<string, string | number> = {}
  for (const field of FIELDS) {
    const text = typed[field]?.trim()
    if (!text) continue
    const value = parsed(text)
    if (numeric.includes(field) && Number.isNaN(value)) return { wrong: field }
    answers[field] = numeric.includes(field) || (either.includes(field) && !Number.isNaN(value)) ? value : text
  }
  return answers as MasterAnswers
}

/** One attempt to put masters on the shelf, and what they still lack. */
export class Adding {
  readonly #client: Client
  readonly #troubles: Troubles
  #refused = $state.raw<Refused[]>([])
  #added = $state<number | null>(null)
  #busy = $state(false)
  readonly #lacks = $derived(
    FIELDS.filter((field) => this.#refused.some(({ lacks }) => lacks.filter(isField).includes(field))),
  )

  constructor(client: Client, troubles: Troubles) {
    this.#client = client
    this.#troubles = troubles
  }

  get refused() {
    return this.#refused
  }

  /** How many the last attempt added; null before the first. */
  get added() {
    return this.#added
  }

  get busy() {
    return this.#busy
  }

  get lacks() {
    return this.#lacks
  }

  async add(paths: string[], answers: MasterAnswers = {}) {
    this.#busy = true
    const answer = await this.#troubles.attempt('adding masters', () =>
      this.#client.ask('addMasters', { paths, answers }),
    )
    this.#busy = false
    if (!answer) return
    this.#added = answer.added.length
    this.#refused = answer.refused
  }
}
