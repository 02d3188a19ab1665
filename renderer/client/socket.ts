import { Refusal } from '../../main/contract/refusal.ts'
import { CLOSED, SOCKET_PATH } from '../../main/contract/socket.ts'
import type { Answer, Ask, EngineEvent } from '../../main/contract/index.ts'
import type { FromHost, Hello, PageRequestName, Welcome } from '../../main/contract/wire.ts'
import { Disconnected, type Connection, type Transport } from './transport.ts'

/** The part of a WebSocket that is used here, so that tests can bring their own. */
export interface Socket {
  send(text: string): void
  close(): void
  addEventListener(name: 'open', listener: () => void): void
  addEventListener(name: 'message', listener: (event: { data: unknown }) => void): void
  addEventListener(name: 'close', listener: (event: { code: number }) => void): void
}

export interface SocketOptions {
  open: () => Socket
  /** From the address, used once; null if the page was opened without. */
  token: string | null
  session: { get(): string | null; set(session: string | null): void }
  /** The token was exchanged or refused: the address need not carry it any more. */
  onTokenSpent: () => void
  schedule?: (work: () => void, ms: number) => () => void
  now?: () => number
  fetch?: typeof globalThis.fetch
}

interface Pending {
  resolve(answer: never): void
  reject(error: Error): void
}

const FIRST_RETRY_MS = 500
const LONGEST_RETRY_MS = 8000
const DENIED_FALLBACK = 'This page is not known to Nightshelf: open the address that it printed when it was started.'

const timer = (work: () => void, ms: number) => {
  const id = setTimeout(work, ms)
  return () => clearTimeout(id)
}

/** Speaks to the headless host as `wire.ts` says, and connects again by itself after any end but a denial. */
export class SocketTransport implements Transport {
  readonly #options: Required<SocketOptions>
  readonly #pending = new Map<number, Pending>()
  readonly #listeners = new Set<(event: EngineEvent) => void>()
  readonly #watchers = new Set<(connection: Connection) => void>()
  #connection: Connection = { at: 'connecting' }
  #socket: Socket | null = null
  #token: string | null
  #code: string | null = null
  #offered: 'token' | 'session' | 'code' | null = null
  #nextId = 1
  #attempts = 0
  #cancelRetry = () => {}
  #closed = false

  constructor(options: SocketOptions) {
    this.#options = { schedule: timer, now: Date.now, fetch: globalThis.fetch.bind(globalThis), ...options }
    this.#token = options.token
    this.#open()
  }

  ask<R extends PageRequestName>(request: R, input: Ask<R>): Promise<Answer<R>> {
    if (this.#connection.at !== 'ready' || !this.#socket)
      return Promise.reject(new Disconnected('There is no connection to Nightshelf at the moment.'))
    const id = this.#nextId++
    const socket = this.#socket
    return new Promise((resolve, reject) => {
      this.#pending.set(id, { resolve, reject })
      socket.send(JSON.stringify({ id, request, input }))
    })
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

  /** A browser gives a page the bytes of a dropped file, never its path. */
  pathOf() {
    return null
  }

  async file(address: string) {
    return this.#options.fetch(address, { headers: this.#authorization() })
  }

  fileRequest(address: string) {
    return { url: new URL(address, document.baseURI).href, headers: this.#authorization() }
  }

  async send(file: File) {
    const response = await this.#options.fetch(`incoming?name=${encodeURIComponent(file.name)}`, {
      method: 'POST',
      body: file,
      headers: { Authorization: `Bearer ${this.#options.session.get() ?? ''}` },
    })
    if (!response.ok) throw new Refusal((await response.text()).trim())
    return ((await response.json()) as { incoming: string }).incoming
  }

  retry() {
    if (this.#connection.at === 'offline') this.#open()
  }

  pair(code: string) {
    this.#code = code
    this.#open()
  }

  close() {
    this.#closed = true
    this.#cancelRetry()
    this.#socket?.close()
  }

  #authorization(): Record<string, string> {
    const session = this.#options.session.get()
    return session ? { Authorization: `Bearer ${session}` } : {}
  }

  #open() {
    this.#cancelRetry()
    const socket = this.#options.open()
    this.#socket = socket
    this.#become({ at: 'connecting' })
    socket.addEventListener('open', () => socket.send(JSON.stringify({ hello: this.#hello() })))
    socket.addEventListener('message', ({ data }) => this.#receive(JSON.parse(String(data)) as FromHost))
    socket.addEventListener('close', ({ code }) => {
      if (this.#socket === socket) this.#ended(code)
    })
  }

  /** What this page has to show: a code just typed, the token of its address, the session it was given before. */
  #hello(): Hello['hello'] {
    const session = this.#options.session.get()
    this.#offered = this.#code ? 'code' : this.#token ? 'token' : 'session'
    if (this.#code) return { code: this.#code }
    if (this.#token) return { token: this.#token }
    return { session: session ?? 'none' }
  }

  #receive(message: FromHost) {
    if ('welcome' in message) return this.#welcomed(message.welcome)
    if ('denied' in message) return this.#denied(message.denied, message.ask)
    if ('event' in message) return this.#tell(message.event)
    const pending = this.#pending.get(message.id)
    this.#pending.delete(message.id)
    if (!pending) return
    if ('answer' in message) pending.resolve(message.answer as never)
    else if ('refused' in message) pending.reject(new Refusal(message.refused))
    else pending.reject(new Error(message.failed))
  }

  #welcomed({ session, engine }: Welcome) {
    this.#options.session.set(session)
    if (this.#token) this.#options.onTokenSpent()
    this.#token = this.#code = null
    this.#attempts = 0
    this.#tell({ event: 'engine', state: engine })
    this.#become({ at: 'ready' })
  }

  #denied(text: string, ask: 'address' | 'code') {
    const offered = this.#offered
    if (offered === 'session') this.#options.session.set(null)
    if (offered === 'token') {
      this.#token = null
      this.#options.onTokenSpent()
    }
    this.#code = null
    // An address opened a second time: its token is used up, but the session that it bought may still hold.
    if (offered === 'token' && this.#options.session.get()) return
    this.#become({ at: 'denied', text, ask })
  }

  #ended(code: number) {
    this.#socket = null
    this.#rejectPending()
    if (this.#closed) return
    if (this.#connection.at === 'denied') return
    if (code === CLOSED.denied) {
      if (this.#offered === 'token' && this.#options.session.get()) return this.#open()
      return this.#become({ at: 'denied', text: DENIED_FALLBACK, ask: 'address' })
    }
    const waitMs = Math.min(FIRST_RETRY_MS * 2 ** this.#attempts++, LONGEST_RETRY_MS)
    this.#cancelRetry = this.#options.schedule(() => this.#open(), waitMs)
    this.#become({ at: 'offline', retryAt: this.#options.now() + waitMs })
  }

  #rejectPending() {
    const error = new Disconnected('The connection to Nightshelf was lost before the answer came.')
    for (const pending of this.#pending.values()) pending.reject(error)
    this.#pending.clear()
  }

  #tell(event: EngineEvent) {
    for (const listener of this.#listeners) listener(event)
  }

  #become(connection: Connection) {
    this.#connection = connection
    for (const watcher of this.#watchers) watcher(connection)
  }
}

/** `ws://HOST/socket`, whatever the page's own address carries. */
export const socketAddress = (page: Location) =>
  `${page.protocol === 'https:' ? 'wss:' : 'ws:'}//${page.host}${SOCKET_PATH}`
