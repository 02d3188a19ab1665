/**
 * What goes over the socket of the headless host, and between a host and its engine process. JSON, one message a frame.
 *
 * Page and headless host, at `ws://HOST/socket`:
 *
 *   page → host   { hello: { token } }            first message, from the address `#t=TOKEN`; a token serves once
 *                 { hello: { session } }          first message, every later time
 *                 { hello: { code } }             first message from another machine, with the printed pairing code
 *   host → page   { welcome: { session, … } }     keep the session in localStorage, replace the address by `#/tonight`
 *                 { denied: sentence, ask }       then the host closes with code 4403; drop the session, show the sentence,
 *                                                 and a field for the pairing code where `ask` is 'code'
 *   page → host   { id, request, input }          any number at once; ids are the page's own and unique while pending
 *   host → page   { id, answer } | { id, refused: sentence } | { id, failed: sentence }
 *                 { event }                       unasked, see events.ts
 *
 * An address with a used token is opened again (history, a second tab): the page tries the token, and where that is denied,
 * the session that it has stored.
 *
 * Closed with 4403: denied. 4429: far too many messages. 1009: a message over `MAX_MESSAGE_BYTES`. 1001: the host stops.
 * After any other end the page tries again by itself, with its session; pending requests are lost, and what it shows must
 * be asked again, because events may have been missed.
 *
 * Files (`files.ts`) are fetched with the header `Authorization: Bearer SESSION`; Range is answered. In Electron there is
 * no token and no session: `window.nightshelf` is there instead (`NightshelfBridge`), and the same relative addresses work
 * without a header. A page tells the hosts apart by that property.
 *
 * Host and engine process: `ToEngine` and `FromEngine`, one message each (`process.send` when forked, `parentPort` in
 * Electron). The engine's argument is the data folder. It says `{ event: { event: 'engine', state: 'ready' } }` once its
 * database is open, or `{ id: 0, refused: sentence }` if it cannot be, and ends with exit code 1. It ends by itself when the
 * host is gone ('disconnect'), and when asked to (`shutDown`).
 */
import { z } from 'zod'
import type { Answer, Ask, FromEngine, RequestName } from './index.ts'
import type { EngineEvent } from './events.ts'
import type { hostRequests } from './requests/host.ts'

/** `progress` of this job comes before the engine is ready, where its database takes long to open. */
export const OPENING = 'open'

/** Exit code of an engine process that closed cleanly and is to be started again at once: another log is in place now. */
export const START_AGAIN = 75

export { CLOSED, MAX_MESSAGE_BYTES, SOCKET_PATH } from './socket.ts'

const key = z.string().min(1).max(200)
export const helloSchema = z.strictObject({
  hello: z.union([z.strictObject({ token: key }), z.strictObject({ session: key }), z.strictObject({ code: key })]),
})
export type Hello = z.infer<typeof helloSchema>

/** One request as the page sends it; its name and input are checked against the contract afterwards. */
export const askMessageSchema = z.strictObject({
  id: z.number().int().nonnegative(),
  request: z.string().max(100),
  input: z.unknown(),
})
export type AskMessage = z.infer<typeof askMessageSchema>

export interface Welcome {
  session: string
  version: string
  /** Whether the engine is up at this moment; changes come as `engine` events. */
  engine: 'starting' | 'ready' | 'lost'
}

export type FromHost = { welcome: Welcome } | { denied: string; ask: 'address' | 'code' } | FromEngine

/** The requests that a page may ask: all but the host's own. */
export type PageRequestName = Exclude<RequestName, keyof typeof hostRequests>

/** A reply as the Electron preload passes it on. A refusal is a value here: an Error loses its class at that border. */
export type Reply<R extends PageRequestName> = { answer: Answer<R> } | { refused: string } | { failed: string }

/** What the Electron preload puts on `window.nightshelf`: one named verb a request, nothing generic. */
export interface NightshelfBridge {
  ask: { [R in PageRequestName]: (input: Ask<R>) => Promise<Reply<R>> }
  /** Calls back on every event until the returned function is called. */
  listen(listener: (event: EngineEvent) => void): () => void
  /** Where a file that was dropped on the window stands on this machine; '' for one that stands nowhere. */
  pathOf(file: File): string
}
