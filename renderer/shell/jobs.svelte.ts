import type { EventOf } from '../../main/contract/events.ts'
import type { Client } from '../client/client.svelte.ts'

type Progress = EventOf<'progress'>

/** Long work that the engine tells of. Done work leaves the list; what failed stays until it is put away. */
export class Jobs {
  #list = $state.raw<readonly Progress[]>([])

  get list() {
    return this.#list
  }

  start(client: Client): () => void {
    return client.on('progress', (progress) => this.note(progress))
  }

  note(progress: Progress) {
    const goesOn = progress.state === 'running' || progress.state === 'failed'
    const others = this.#list.filter(({ job }) => job !== progress.job)
    this.#list = goesOn ? [...others, progress] : others
  }

  putAway(job: string) {
    this.#list = this.#list.filter((progress) => progress.job !== job)
  }
}
