import { OPENING, Refusal, START_AGAIN, type FromEngine, type ToEngine } from '../contract/index.ts'
import { openEngine, type EngineOptions, type Opening } from './open.ts'

/** The host's side, as the engine's process sees it. */
export interface HostPort {
  send(message: FromEngine): void
  onMessage(listener: (message: ToEngine) => void): void
  /** Called once when the host is gone. */
  onGone(listener: () => void): void
}

/**
 * Serves a host over a port until it asks to shut down or is gone; see `contract/wire.ts`.
 * @returns exit code: 0 after a clean end, `START_AGAIN` where it is to be started again at once, 1 where the database could not be opened (the host was told why)
 */
export async function serveHost(port: HostPort, options: EngineOptions): Promise<number> {
  const early: ToEngine[] = []
  let receive = (message: ToEngine) => void early.push(message)
  const gone = new Promise<void>((resolve) => port.onGone(resolve))
  port.onMessage((message) => receive(message))
  try {
    const engine = await openEngine({ live: true, onOpening: (opening) => tellOpening(port, opening), ...options })
    engine.listen((event) => port.send({ event }))
    const shutDown = new Promise<void>((resolve) => {
      receive = (message) => {
        void engine
          .ask(message.request, message.input as never)
          .then(
            (answer) => port.send({ id: message.id, answer }),
            (error: unknown) => port.send({ id: message.id, ...sayError(error, message.request) }),
          )
          .then(() => message.request === 'shutDown' && resolve())
      }
    })
    port.send({ event: { event: 'engine', state: 'ready' } })
    for (const message of early) receive(message)
    await Promise.race([gone, shutDown, engine.leaving])
    await engine.close()
    const { lastWord } = engine
    if (lastWord) port.send({ event: { event: 'progress', done: 1, total: 1, leftS: null, ...lastWord } })
    return lastWord ? START_AGAIN : 0
  } catch (error) {
    port.send({ id: 0, ...sayError(error, 'open') })
    return 1
  }
}

/** Sent at once, though the thread is busy from then on. */
function tellOpening(port: HostPort, { title, done, total }: Opening): void {
  const state = done === total ? ('done' as const) : ('running' as const)
  port.send({ event: { event: 'progress', job: OPENING, title, done, total, leftS: null, state, text: null } })
}

function sayError(error: unknown, request: string): { refused: string } | { failed: string } {
  if (error instanceof Refusal) return { refused: error.message }
  const text = (error as Error).stack ?? String(error)
  process.stderr.write(`A fault while answering "${request}": ${text}\n`)
  return { failed: text.split('\n')[0] }
}
