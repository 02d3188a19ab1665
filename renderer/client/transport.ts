import type { Answer, Ask, EngineEvent } from '../../main/contract/index.ts'
import type { PageRequestName } from '../../main/contract/wire.ts'

export type EngineState = 'starting' | 'ready' | 'lost'

/** How the window stands to the host that serves it. */
export type Connection =
  | { at: 'connecting' }
  | { at: 'ready' }
  /** Tried again by itself at `retryAt` (ms since 1970). */
  | { at: 'offline'; retryAt: number }
  /** The host will not speak to this page: `text` says what to do, `ask` whether a pairing code would help. */
  | { at: 'denied'; text: string; ask: 'address' | 'code' }

/** The connection ended before the answer came. It says nothing about whether the request was carried out. */
export class Disconnected extends Error {
  override name = 'Disconnected'
}

/** An absolute address, and the headers that the host wants to see with it. */
export interface FileRequest {
  url: string
  headers: Record<string, string>
}

/** What lies between the window and the engine: a socket (`socket.ts`) or Electron's preload (`bridge.ts`). */
export interface Transport {
  /** Rejects with a `Refusal`, `Disconnected`, or another Error for a fault of ours. */
  ask<R extends PageRequestName>(request: R, input: Ask<R>): Promise<Answer<R>>
  /** Calls back on every event until the returned function is called. */
  listen(listener: (event: EngineEvent) => void): () => void
  /** Calls back at once with the present state, and on each change. */
  watch(listener: (connection: Connection) => void): () => void
  /** Fetches the bytes behind a file address (`frame/12/thumbnail.png`). */
  file(address: string): Promise<Response>
  /** Where a dropped file stands on the machine of the engine; null where the host cannot know. */
  pathOf(file: File): string | null
  /** What a worker needs to fetch the same by itself. */
  fileRequest(address: string): FileRequest
  /** Sends a file's bytes, where the engine cannot know its path. @returns the name under which it can be added */
  send(file: File): Promise<string>
  /** Tries to connect now instead of waiting. */
  retry(): void
  /** Offers the pairing code that the host printed. */
  pair(code: string): void
  close(): void
}
