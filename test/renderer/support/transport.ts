import type { Answer, Ask, EngineEvent } from '../../../main/contract/index.ts'
import type { PageRequestName } from '../../../main/contract/wire.ts'
import type { Connection, Transport } from '../../../renderer/client/transport.ts'

type Replies = { [R in PageRequestName]?: (input: Ask<R>) => Answer<R> | Promise<Answer<R>> }

/** A host that answers from a table, and says what the test tells it to say. */
export class FakeTransport implements Transport {
  readonly asked: { request: PageRequestName; input: unknown }[] = []
  readonly replies: Replies
  readonly #listeners = new Set<(event: EngineEvent) => void>()
  readonly #watchers = new Set<(connection: Connection) => void>()
  #connection: Connection = { at: 'connecting' }

  constructor(replies: Replies = {}) {
    this.replies = replies
  }

  async ask<R extends PageRequestName>(request: R, input: Ask<R>): Promise<Answer<R>> {
    this.asked.push({ request, input })
    const reply = this.replies[request] as ((input: Ask<R>) => Answer<R> | Promise<Answer<R>>) | undefined
    if (!reply) throw new Error(`The test has no reply to ${request}.`)
    return reply(input)
  }

  listen(listener: (event: EngineEvent) => void) {
    this.#listeners.add(listener)
    return () => void this.#listeners.delete(listener)
  }

  watch(listener: (connection: Connection) => void) {
    this.#watchers.add(listener)
    listener(this.#connection)
    return () => void this.#watchers.delete(listener)
  }

  tell(event: EngineEvent) {
    for (const listener of this.#listeners) listener(event)
  }

  become(connection: Connection) {
    this.#connection = connection
    for (const watcher of this.#watchers) watcher(connection)
  }

  /** Connected, with the engine up. */
  welcome() {
    this.tell({ event: 'engine', state: 'ready' })
    this.become({ at: 'ready' })
  }

  get listeners() {
    return this.#listeners.size
  }

  fileRequest = (address: string) => ({ url: `http://host/${address}`, headers: {} })
  file = () => Promise.resolve(new Response(null, { status: 404 }))
  pathOf = (): string | null => null
  sent: string[] = []
  send = (file: File) => {
    this.sent.push(file.name)
    return Promise.resolve(`incoming-${file.name}-0123456789`)
  }
  retry() {}
  pair() {}
  close() {}
}

/** Lets promises that are ready run. */
export const settled = () => new Promise<void>((resolve) => setTimeout(resolve, 0))
