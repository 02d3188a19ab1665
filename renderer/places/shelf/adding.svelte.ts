import type { MasterAnswers } from '../../../main/contract/index.ts'
import type { Client } from '../../client/client.svelte.ts'
import { sentenceFor, type Troubles } from '../../client/troubles.svelte.ts'
import {
  groupByAnswers,
  isFitsName,
  lackedFields,
  type Candidate,
  type Field,
  type Source,
  type Typed,
} from './answers.ts'
import { Outcome } from './outcome.ts'

/** A request must stay well below what one message may hold. */
const MOST_AT_ONCE = 100

/** Masters on their way to the shelf: those that were refused or still lack something, and what the last attempt came to. */
export class Adding {
  readonly #client: Client
  readonly #troubles: Troubles
  #candidates = $state.raw<readonly Candidate[]>([])
  #refused = $state.raw<readonly { name: string; reason: string }[]>([])
  #added = $state<number | null>(null)
  #already = $state(0)
  #doing = $state<string | null>(null)
  readonly #lacks = $derived.by(() => lackedFields(this.#candidates))

  constructor(client: Client, troubles: Troubles) {
    this.#client = client
    this.#troubles = troubles
  }

  /** Files that lack something, and masters that stay unconfirmed until more is told. */
  get candidates() {
    return this.#candidates
  }

  /** Files that cannot be masters, each with one sentence. */
  get refused() {
    return this.#refused
  }

  /** How many the last attempt added; null before the first. */
  get added() {
    return this.#added
  }

  /** Of the last attempt, how many stood on the shelf before. */
  get already() {
    return this.#already
  }

  /** What is being done, as words; null while nothing is. */
  get doing() {
    return this.#doing
  }

  get busy() {
    return this.#doing !== null
  }

  /** Fields that at least one candidate lacks, in the order in which they are asked. */
  get lacks(): readonly Field[] {
    return this.#lacks
  }

  /** Files or folders on the engine's machine. */
  addPaths(paths: readonly string[]) {
    return this.#attempt(paths.map((path) => ({ path })))
  }

  /**
   * Files that were dropped or chosen: by their paths where the host knows them (a folder then stands for what is in it), else their bytes
   * are sent.
   */
  async addFiles(files: readonly File[]) {
    this.#begin()
    const sources: Source[] = []
    const refused: { name: string; reason: string }[] = []
    for (const [index, file] of files.entries()) {
      const path = this.#client.pathOf(file)
      if (path !== null) sources.push({ path })
      else if (!isFitsName(file.name))
        refused.push({
          name: file.name,
          reason: 'By its name this is no FITS file: masters end in .fits, .fit, .fts or .fz.',
        })
      else {
        this.#doing = `Sending ${index + 1} of ${files.length}: ${file.name}`
        try {
          sources.push({ incoming: await this.#client.send(file), name: file.name })
        } catch (error) {
          refused.push({ name: file.name, reason: sentenceFor(error, `sending ${file.name}`) })
        }
      }
    }
    this.#refused = refused
    await this.#attempt(sources, refused)
  }

  /** Once more, with what was typed for those that lacked something. Masters about which nothing was told stay as they are. */
  async complete(typed: Typed): Promise<{ wrong: Field; name: string } | null> {
    const told = groupByAnswers(this.#candidates, typed)
    if ('wrong' in told) return told
    this.#begin()
    const outcome = new Outcome()
    for (const { answers, sources } of told.groups) await this.#ask(sources, answers, outcome)
    this.#take(outcome, told.untold, [])
    return null
  }

  /** Nothing more is told about those that are left. */
  leave() {
    this.#candidates = []
    this.#refused = []
    this.#added = null
  }

  #begin() {
    this.#doing = 'Adding…'
    this.#added = null
    this.#already = 0
    this.#refused = []
  }

  async #attempt(sources: readonly Source[], refused: readonly { name: string; reason: string }[] = []) {
    if (!sources.length) {
      this.#doing = null
      this.#added = 0
      return
    }
    if (!this.busy) this.#begin()
    const outcome = new Outcome()
    await this.#ask(sources, {}, outcome)
    this.#take(outcome, this.#candidates, refused)
  }

  async #ask(sources: readonly Source[], answers: MasterAnswers, outcome: Outcome) {
    for (let from = 0; from < sources.length; from += MOST_AT_ONCE) {
      const part = sources.slice(from, from + MOST_AT_ONCE)
      this.#doing = sources.length > 1 ? `Adding ${from + 1} to ${from + part.length} of ${sources.length}…` : 'Adding…'
      const paths = part.flatMap((source) => ('path' in source ? source.path : []))
      const incoming = part.flatMap((source) => ('incoming' in source ? source.incoming : []))
      const answer = await this.#troubles.attempt('adding masters', () =>
        this.#client.ask('addMasters', { paths, incoming, answers }),
      )
      if (answer) outcome.add(answer, part)
    }
  }

  #take(outcome: Outcome, kept: readonly Candidate[], refused: readonly { name: string; reason: string }[]) {
    this.#candidates = [...kept.filter((candidate) => !outcome.speaksOf(candidate)), ...outcome.candidates]
    this.#refused = [...refused, ...outcome.refused]
    this.#added = outcome.added
    this.#already = outcome.already
    this.#doing = null
  }
}
