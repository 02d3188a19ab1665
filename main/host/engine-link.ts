import {
  OPENING,
  Refusal,
  START_AGAIN,
  type Answer,
  type Ask,
  type EngineEvent,
  type EngineLink,
  type EventOf,
  type FromEngine,
  type RequestName,
  type ToEngine,
} from '../contract/index.ts'

/** An engine process, whatever started it: `child_process.fork` headless, `utilityProcess` in Electron. */
export interface EngineProcess {
  send(message: ToEngine): void
  onMessage(listener: (message: FromEngine) => void): void
  /** Called once, however it ended. */
  onExit(listener: (code: number | null) => void): void
  /** Ends it at once. */
  kill(): void
}

/**
 * What the engine's process is started with besides. glibc raises the size from which it maps memory by itself to that of the
 * largest piece that was ever given back; pictures and whole files then come from heaps, one a thread, that grow over the night
 * and do not shrink (40 MB in 14 hours). With a fixed limit each is given back at once. Other systems do not know these words.
 */
export const engineEnvironment = (own: NodeJS.ProcessEnv): NodeJS.ProcessEnv => ({
  MALLOC_MMAP_THRESHOLD_: '65536',
  MALLOC_TRIM_THRESHOLD_: '131072',
  MALLOC_ARENA_MAX: '2',
  ...own,
})

export type EngineState = 'starting' | 'ready' | 'lost'

export interface EngineKeeperOptions {
  start: () => EngineProcess
  /** One line for the log: why the engine was started again. */
  log?: (line: string) => void
  /** Pauses before a restart, ms: the first, the second, …, the last for all later ones. */
  pausesMs?: number[]
  /** An engine that lived this long was well: the next restart takes the first pause again. */
  wellAfterMs?: number
  /** How long `close` waits for the engine to close its database before it is killed. */
  patienceMs?: number
}

interface Pending {
  message: ToEngine
  resolve: (answer: unknown) => void
  reject: (error: Error) => void
}

const STOPPED =
  'The engine stopped while this was being done and is being started again. Look whether it was done, then try again.'
const AWAY = 'The engine is being started again. Try again in a moment.'
const CLOSING = 'Nightshelf is closing.'

/** The engine is not there at this moment; asking again later may well succeed. */
export class EngineAway extends Refusal {}

/**
 * Keeps one engine process alive and speaks to it. When it dies, what was pending is rejected with one sentence, every
 * listener hears `engine: lost`, and it is started again; `engine: ready` follows once its database is open.
 */
export class EngineKeeper implements EngineLink {
  state: EngineState = 'starting'
  readonly #options: Required<EngineKeeperOptions>
  readonly #listeners = new Set<(event: EngineEvent) => void>()
  readonly #pending = new Map<number, Pending>()
  /** Resolves once the first engine is ready; rejects with its `Refusal` if it could not open its database. */
  readonly opened: Promise<void>
  #open!: () => void
  #fail!: (refusal: Refusal) => void
  #process: EngineProcess | null = null
  #exited: Promise<void> = Promise.resolve()
  #nextId = 1
  #deaths = 0
  #refusal: string | null = null
  #everReady = false
  #opening: EngineEvent | null = null
  #restart: NodeJS.Timeout | null = null
  #closing: Promise<void> | null = null

  constructor(options: EngineKeeperOptions) {
    this.#options = {
      log: () => {},
      pausesMs: [100, 1_000, 5_000, 15_000, 30_000],
      wellAfterMs: 60_000,
      patienceMs: 8_000,
      ...options,
    }
    this.opened = new Promise((resolve, reject) => {
      this.#open = resolve
      this.#fail = reject
    })
    this.opened.catch(() => {})
    this.#start()
  }

  ask<R extends RequestName>(request: R, input: Ask<R>): Promise<Answer<R>> {
    if (this.#closing) return Promise.reject(new EngineAway(CLOSING))
    if (this.state === 'lost') return Promise.reject(new EngineAway(AWAY))
    return this.#send(request, input) as Promise<Answer<R>>
  }

  listen(listener: (event: EngineEvent) => void): () => void {
    this.#listeners.add(listener)
    if (this.#opening && this.state === 'starting') listener(this.#opening)
    return () => this.#listeners.delete(listener)
  }

  /** Asks the engine to close its database and waits until its process is gone. */
  close(): Promise<void> {
    this.#closing ??= this.#close()
    return this.#closing
  }

  async #close(): Promise<void> {
    if (this.#restart) clearTimeout(this.#restart)
    this.#fail(new Refusal(CLOSING))
    if (!this.#process) return
    const engine = this.#process
    const giveUp = setTimeout(() => {
      this.#options.log('The engine did not close in time and was ended; its database recovers by itself.')
      engine.kill()
    }, this.#options.patienceMs)
    // Asked for even while it starts: the message waits in its queue until its database is open.
    this.#send('shutDown', {}).catch(() => {})
    await this.#exited
    clearTimeout(giveUp)
  }

  #send(request: RequestName, input: unknown): Promise<unknown> {
    return new Promise((resolve, reject) => {
      const message = { id: this.#nextId++, request, input }
      this.#pending.set(message.id, { message, resolve, reject })
      if (this.state === 'ready') this.#process?.send(message)
    })
  }

  #start(): void {
    this.#restart = null
    this.#refusal = null
    this.#opening = null
    this.#setState('starting')
    const engine = this.#options.start()
    const startedAt = performance.now()
    this.#process = engine
    this.#exited = new Promise((exited) => {
      engine.onExit((code) => {
        exited()
        this.#ended(code, performance.now() - startedAt)
      })
    })
    engine.onMessage((message) => this.#receive(message))
  }

  #receive(message: FromEngine): void {
    if ('event' in message) {
      const { event } = message
      if (event.event === 'engine') return this.#setState(event.state)
      if (event.event === 'progress' && event.job === OPENING) this.#noteOpening(event)
      return this.#tell(event)
    }
    if (message.id === 0) {
      if ('refused' in message) this.#refusal = message.refused
      return
    }
    const pending = this.#pending.get(message.id)
    if (!pending) return
    this.#pending.delete(message.id)
    if ('answer' in message) pending.resolve(message.answer)
    else if ('refused' in message) pending.reject(new Refusal(message.refused))
    else pending.reject(new Error(message.failed))
  }

  /** Said in the log, too, and kept for whoever comes while it lasts. */
  #noteOpening(event: EventOf<'progress'>): void {
    this.#opening = event
    if (event.state === 'running') this.#options.log(`${event.title}…`)
  }

  #ended(code: number | null, livedMs: number): void {
    this.#process = null
    const refusal = this.#refusal
    for (const { reject } of this.#pending.values())
      reject(new EngineAway(this.#closing ? CLOSING : (refusal ?? STOPPED)))
    this.#pending.clear()
    if (this.#closing) return
    if (code === START_AGAIN) return this.#start()
    this.#setState('lost')
    if (refusal) this.#fail(new Refusal(refusal))
    const { pausesMs, wellAfterMs, log } = this.#options
    this.#deaths = livedMs >= wellAfterMs ? 1 : this.#deaths + 1
    const pauseMs = pausesMs[Math.min(this.#deaths, pausesMs.length) - 1]
    // A refusal at the very start is told by "opened", to whoever waits for it.
    if (!refusal)
      log(`The engine ended unexpectedly (${code ?? 'killed'}); it is started again in ${pauseMs / 1000} s.`)
    else if (this.#everReady) log(refusal)
    this.#restart = setTimeout(() => this.#start(), pauseMs)
  }

  #setState(state: EngineState): void {
    this.state = state
    if (state === 'ready') {
      this.#everReady = true
      for (const { message } of this.#pending.values()) this.#process?.send(message)
      this.#open()
    }
    this.#tell({ event: 'engine', state })
  }

  #tell(event: EngineEvent): void {
    for (const listener of this.#listeners) listener(event)
  }
}
