import type { Answer, FlatNow, Master, Rig, Run, Shortfall, TrainChange } from '../../../main/contract/index.ts'
import { Live } from '../../client/live.svelte.ts'
import type { Client } from '../../client/client.svelte.ts'
import { darkFlatsFor, flatRows } from './rows.ts'

/** Everything that the place of the flats shows, kept fresh. */
export class FlatsState {
  readonly #client: Client
  readonly #library: Live<'library'>
  readonly #rigs: Live<'rigs'>
  readonly #changes: Live<'trainChanges'>
  readonly #suggestions: Live<'suggestedChanges'>
  readonly #tonight: Live<'tonight'>
  readonly #settings: Live<'settings'>
  readonly #now: Live<'flatsNow'>
  readonly #rows = $derived.by(() => flatRows(this.#masters, this.changes, this.flatRuns, this.rigs, this.#lights))

  constructor(client: Client) {
    this.#client = client
    this.#library = new Live(client, 'library', {}, ['library', 'builds', 'settings'])
    this.#rigs = new Live(client, 'rigs', {}, ['settings', 'folders', 'night'])
    this.#changes = new Live(client, 'trainChanges', {}, ['settings', 'night', 'library'])
    this.#suggestions = new Live(client, 'suggestedChanges', {}, ['settings', 'night'])
    this.#tonight = new Live(client, 'tonight', {}, ['night', 'library', 'settings'])
    this.#settings = new Live(client, 'settings', {}, ['settings'])
    this.#now = new Live(client, 'flatsNow', {}, ['night', 'library', 'settings'])
  }

  get #masters(): readonly Master[] {
    return this.#library.answer?.masters ?? []
  }

  get rows() {
    return this.#rows
  }

  get known() {
    return this.#library.answer !== undefined
  }

  /** Why the place can't be shown, or can't be shown wholly; null while all is well. */
  get failure(): string | null {
    return this.#library.failure ?? this.#rigs.failure ?? this.#changes.failure
  }

  get rigs(): readonly Rig[] {
    return this.#rigs.answer?.rigs ?? []
  }

  get changes(): readonly TrainChange[] {
    return this.#changes.answer?.changes ?? []
  }

  get suggestions(): Answer<'suggestedChanges'>['suggestions'] {
    return this.#suggestions.answer?.suggestions ?? []
  }

  /** Flats of the newest night, raw: they may be being shot at this moment. */
  get flatRuns(): readonly Run[] {
    return (this.#tonight.answer?.runs ?? []).filter(({ kind, aside }) => kind === 'flat' && !aside)
  }

  get #lights(): readonly Run[] {
    return (this.#tonight.answer?.runs ?? []).filter(({ aside, verdicts }) => !aside && verdicts.flat)
  }

  /** How the flats of a run are at the moment: level, balance, clipping, each with what to do. */
  nowOf(run: Run): FlatNow | null {
    return this.#now.answer?.flats.find((flat) => flat.run === run.id) ?? null
  }

  /** The dark flats that a run of flats still needs; null where it has them, or there are too few flats to ask for any. */
  nextFor(run: Run): Shortfall | null {
    return darkFlatsFor(run, this.#tonight.answer?.shortfall ?? [])
  }

  get agingDays() {
    return this.#settings.answer?.settings.tolerances.flatAgingDays ?? null
  }

  start(): () => void {
    const lives = [
      this.#library,
      this.#rigs,
      this.#changes,
      this.#suggestions,
      this.#tonight,
      this.#settings,
      this.#now,
    ]
    const offs = [
      ...lives.map((live) => live.start()),
      // A level is wanted before the next flat is shot: the burst of changes that follows is not waited for.
      this.#client.on('figures', () => this.#now.refreshSoon()),
    ]
    return () => offs.forEach((off) => off())
  }
}
