import { Refusal } from '../../main/contract/refusal.ts'
import type { Answer, Ask, EngineEvent } from '../../main/contract/index.ts'
import type { NightshelfBridge, PageRequestName, Reply } from '../../main/contract/wire.ts'
import type { Connection, Transport } from './transport.ts'

/** Speaks to the engine through what Electron's preload put on `window.nightshelf`. The host is always there. */
export class BridgeTransport implements Transport {
  readonly #bridge: NightshelfBridge

  constructor(bridge: NightshelfBridge) {
    this.#bridge = bridge
  }

  async ask<R extends PageRequestName>(request: R, input: Ask<R>): Promise<Answer<R>> {
    // A table of functions over all requests is called with the input of one of them: TypeScript cannot follow.
    const ask = this.#bridge.ask[request] as unknown as (input: Ask<R>) => Promise<Reply<R>>
    const reply = await ask(input)
    if ('answer' in reply) return reply.answer
    if ('refused' in reply) throw new Refusal(reply.refused)
    throw new Error(reply.failed)
  }

  listen(listener: (event: EngineEvent) => void) {
    return this.#bridge.listen(listener)
  }

  watch(listener: (connection: Connection) => void) {
    listener({ at: 'ready' })
    return () => {}
  }

  file(address: string) {
    return fetch(address)
  }

  pathOf(file: File) {
    return this.#bridge.pathOf(file) || null
  }

  fileRequest(address: string) {
    return { url: new URL(address, document.baseURI).href, headers: {} }
  }

  /** Here every file that a person brings has a path. */
  send(): Promise<string> {
    return Promise.reject(new Refusal('This file stands nowhere on this machine: save it to a folder first.'))
  }

  retry() {}
  pair() {}
  close() {}
}
