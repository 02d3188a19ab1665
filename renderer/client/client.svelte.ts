import type { Answer, Ask, EngineEvent } from '../../main/contract/index.ts'
import type { EventOf } from '../../main/contract/events.ts'
import type { PageRequestName } from '../../main/contract/wire.ts'
import type { Connection, EngineState, Transport } from './transport.ts'

const MOST_REMEMBERED = 20
const keyOf = (request: PageRequestName, input: unknown) => `${request} ${JSON.stringify(input)}`

/** The one way from the window to the engine, in both hosts: typed by the contract, and knowing whether anyone listens. */
export class Client {
  readonly #transport: Transport
  #ready: (() => void)[] = []
  #connection = $state.raw<Connection>({ at: 'connecting' })
  #engine = $state<EngineState>('starting')
  // Nobody waits for it to change: a place reads it once, when it opens.
  // eslint-disable-next-line svelte/prefer-svelte-reactivity
  readonly #remembered = new Map<string, unknown>()
  #wasUsable = false

  constructor(transport: Transport, engine: EngineState = 'starting') {
    this.#transport = transport
    this.#engine = engine
    transport.listen((event) => {
      if (event.event === 'engine') this.#engine = event.state
      this.#noteReadiness()
    })
    transport.watch((connection) => {
      this.#connection = connection
      this.#noteReadiness()
    })
  }

  get connection() {
    return this.#connection
  }

  get engine() {
    return this.#engine
  }

  /** True while requests can be answered. */
  get usable() {
    return this.#connection.at === 'ready' && this.#engine === 'ready'
  }

  ask<R extends PageRequestName>(request: R, input: Ask<R>): Promise<Answer<R>> {
    return this.#transport.ask(request, input)
  }

  /** The last answer to this very question, so that a place that is opened again is there at once. */
  remembered<R extends PageRequestName>(request: R, input: Ask<R>): Answer<R> | undefined {
    return this.#remembered.get(keyOf(request, input)) as Answer<R> | undefined
  }

  remember<R extends PageRequestName>(request: R, input: Ask<R>, answer: Answer<R>) {
    const key = keyOf(request, input)
    this.#remembered.delete(key)
    this.#remembered.set(key, answer)
    if (this.#remembered.size > MOST_REMEMBERED) this.#remembered.delete(this.#remembered.keys().next().value!)
  }

  /** Calls back on events of one name until the returned function is called. */
  on<E extends EngineEvent['event']>(name: E, listener: (event: EventOf<E>) => void): () => void {
    return this.#transport.listen((event) => {
      if (event.event === name) listener(event as EventOf<E>)
    })
  }

  /** Calls back whenever requests can be answered (again): events may have been missed, so ask anew. */
  whenUsable(listener: () => void): () => void {
    this.#ready.push(listener)
    if (this.usable) listener()
    return () => void (this.#ready = this.#ready.filter((other) => other !== listener))
  }

  file(address: string) {
    return this.#transport.file(address)
  }

  /** Where a dropped file stands on the engine's machine; null where the host cannot know: a browser never tells. */
  pathOf(file: File) {
    return this.#transport.pathOf(file)
  }

  fileRequest(address: string) {
    return this.#transport.fileRequest(address)
  }

  /** Sends a file's bytes to the engine's machine; rejects with a Refusal in one sentence. */
  send(file: File) {
    return this.#transport.send(file)
  }

  retry = () => this.#transport.retry()
  pair = (code: string) => this.#transport.pair(code)

  #noteReadiness() {
    const usable = this.usable
    if (usable && !this.#wasUsable) for (const listener of this.#ready) listener()
    this.#wasUsable = usable
  }
}
