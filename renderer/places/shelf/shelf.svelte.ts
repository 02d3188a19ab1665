import { Live } from '../../client/live.svelte.ts'
import type { Client } from '../../client/client.svelte.ts'
import { findMasters } from './find.ts'

/** The masters on the shelf, in the order kind, camera, exposure, temperature, and those that the typed words find. */
export class ShelfState {
  readonly #live: Live<'library'>
  #find = $state('')
  readonly #masters = $derived.by(() =>
    (this.#live.answer?.masters ?? []).toSorted(
      (a, b) =>
        a.kind.localeCompare(b.kind) ||
        (a.camera ?? '').localeCompare(b.camera ?? '') ||
        (a.filter ?? '').localeCompare(b.filter ?? '') ||
        (a.exposureS ?? 0) - (b.exposureS ?? 0) ||
        a.id - b.id,
    ),
  )
  readonly #found = $derived(findMasters(this.#masters, this.#find))

  constructor(client: Client, find: string) {
    this.#live = new Live(client, 'library', {}, ['library', 'builds'])
    this.#find = find
  }

  get masters() {
    return this.#masters
  }

  get found() {
    return this.#found
  }

  get find() {
    return this.#find
  }

  set find(words: string) {
    this.#find = words
  }

  get known() {
    return this.#live.answer !== undefined
  }

  get failure() {
    return this.#live.failure
  }

  start = () => this.#live.start()
}
