import type { Answer, Master, Rig, Run, SettingsAnswer, TrainChange } from '../../../main/contract/index.ts'
import { Live } from '../../client/live.svelte.ts'
import type { Client } from '../../client/client.svelte.ts'
import { flatRows } from './rows.ts'

/** Everything that the place of the flats shows, kept fresh. */
export class FlatsState {
  readonly #library: Live<'library'>
  readonly #rigs: Live<'rigs'>
  readonly #changes: Live<'trainChanges'>
  readonly #suggestions: Live<'suggestedChanges'>
  readonly #tonight: Live<'tonight'>
  readonly #settings: Live<'settings'>
  readonly #cameras: Live<'cameras'>
  readonly #rows = $derived.by(() => flatRows(this.#masters, this.changes, this.flatRuns, this.rigs))

  constructor(client: Client) {
    this.#library = new Live(client, 'library', {}, ['library', 'builds', 'settings'])
    this.#rigs = new Live(client, 'rigs', {}, ['settings', 'folders', 'night'])
    this.#changes = new Live(client, 'trainChanges', {}, ['settings', 'night', 'library'])
    this.#suggestions = new Live(client, 'suggestedChanges', {}, ['settings', 'night'])
    this.#tonight = new Live(client, 'tonight', {}, ['night', 'library', 'settings'])
    this.#settings = new Live(client, 'settings', {}, ['settings'])
    this.#cameras = new Live(client, 'cameras', {}, ['settings', 'night'])
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

  /** What is said against flats of the newest night: their level, balance, clipping. */
  noticesOn(run: Run) {
    return (this.#tonight.answer?.notices ?? []).filter(
      ({ rule, frameIds }) => rule.startsWith('flat-') && frameIds.some((id) => run.frameIds.includes(id)),
    )
  }

  get agingDays() {
    return this.#settings.answer?.settings.tolerances.flatAgingDays ?? null
  }

  /** The sensor rules that hold for a camera. */
  rulesOf(camera: string | null): SettingsAnswer['sensorRules'][number]['rules'] | null {
    const named = this.#cameras.answer?.cameras.find((entry) => entry.camera === camera)?.class ?? 'glow'
    return this.#settings.answer?.settings.sensorRules.find(({ rules }) => rules.class === named)?.rules ?? null
  }

  /** The black level that a dark flat tells, ADU. */
  pedestalOf(run: Run): number {
    const id = run.verdicts.darkFlat?.master
    const master = this.#masters.find((candidate) => candidate.id === id)
    return master?.scale === 'unit' ? 0 : (master?.figures?.median ?? 0)
  }

  start(): () => void {
    const lives = [
      this.#library,
      this.#rigs,
      this.#changes,
      this.#suggestions,
      this.#tonight,
      this.#settings,
      this.#cameras,
    ]
    const offs = lives.map((live) => live.start())
    return () => offs.forEach((off) => off())
  }
}
