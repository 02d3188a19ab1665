import type { WebSocket } from 'ws'
import { CLOSED, helloSchema, type FromHost, type Hello } from '../../contract/index.ts'
import type { EngineKeeper } from '../engine-link.ts'
import { answerPage, readAsk } from '../door.ts'
import type { Keys } from './keys.ts'
import { RateLimit, type Limits } from './rate.ts'

/** How long a connection may stay silent before it has said who it is. */
const HELLO_MS = 10_000
/** A page that does not read its events (asleep, on a lost network) is let go; it asks anew when it comes back. */
const UNREAD_BYTES = 16 * 1024 * 1024

export interface VisitorOptions {
  engine: EngineKeeper
  keys: Keys
  limits: Limits
  version: string
  log: (line: string) => void
}

/** One connection of a page: first it says who it is, then it asks and is told. */
export class Visitor {
  /** Answered the last ping. */
  alive = true
  readonly #socket: WebSocket
  readonly #options: VisitorOptions
  readonly #messages: RateLimit
  readonly #refusals: RateLimit
  #session: string | null = null
  #unlisten: () => void = () => {}

  constructor(socket: WebSocket, options: VisitorOptions) {
    this.#socket = socket
    this.#options = options
    this.#messages = new RateLimit(options.limits.messages)
    this.#refusals = new RateLimit(options.limits.refusals)
    const tooLong = setTimeout(() => this.#deny('This connection never said who it is.'), HELLO_MS)
    socket.on('message', (data, isBinary) => {
      if (isBinary) return socket.close(1003, 'text only')
      const text = (data as Buffer).toString('utf8')
      if (this.#session !== null) return this.#ask(text)
      clearTimeout(tooLong)
      this.#greet(text)
    })
    socket.on('pong', () => (this.alive = true))
    // `ws` closes with 1009 by itself where a message is too big; the error only says so.
    socket.on('error', () => {})
    socket.on('close', () => {
      clearTimeout(tooLong)
      this.#unlisten()
    })
  }

  #greet(text: string): void {
    const hello = readHello(text)
    if (!hello) return this.#deny('The first message must say who you are.')
    const { engine, keys, version } = this.#options
    this.#session = keys.admit(hello)
    if (this.#session === null) return this.#deny(whyNot(hello, keys))
    this.#unlisten = engine.listen((event) => this.#send({ event }))
    this.#send({ welcome: { session: this.#session, version, engine: engine.state } })
  }

  #ask(text: string): void {
    const message = readAsk(text)
    if (!this.#messages.allows()) {
      if (!this.#refusals.allows()) this.#socket.close(CLOSED.tooMany, 'too many messages')
      else if (message) this.#send({ id: message.id, refused: 'Too many requests at once; try again in a moment.' })
      return
    }
    if (!message) return this.#socket.close(1007, 'not a request')
    void answerPage(this.#options.engine, message, this.#options.log).then((reply) => this.#send(reply))
  }

  #deny(sentence: string): void {
    this.#send({ denied: sentence, ask: this.#options.keys.code === null ? 'address' : 'code' })
    this.#socket.close(CLOSED.denied, 'denied')
  }

  #send(message: FromHost): void {
    if (this.#socket.readyState !== this.#socket.OPEN) return
    if (this.#socket.bufferedAmount > UNREAD_BYTES) return this.#socket.terminate()
    this.#socket.send(JSON.stringify(message))
  }
}

function readHello(text: string): Hello | null {
  try {
    return helloSchema.parse(JSON.parse(text))
  } catch {
    return null
  }
}

function whyNot({ hello }: Hello, keys: Keys): string {
  if ('code' in hello)
    return keys.code === null
      ? 'This Nightshelf is not open to other machines: start it with --lan to pair.'
      : 'That is not the pairing code: take the newest one that Nightshelf printed where it runs.'
  const pairing = keys.code === null ? '' : ', or type the pairing code'
  return 'token' in hello
    ? `This address was used already or is out of date: open the newest one that Nightshelf printed${pairing}.`
    : `This browser is not known here: open the address that Nightshelf printed${pairing}.`
}
