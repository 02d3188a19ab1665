import { describe, expect, test } from 'vitest'
import { Refusal } from '../../../main/contract/refusal.ts'
import { CLOSED } from '../../../main/contract/socket.ts'
import type { EngineEvent } from '../../../main/contract/index.ts'
import { SocketTransport, socketAddress } from '../../../renderer/client/socket.ts'
import { Disconnected, type Connection } from '../../../renderer/client/transport.ts'

class FakeSocket {
  readonly sent: unknown[] = []
  readonly #listeners: Record<string, (event: never) => void> = {}
  addEventListener(name: string, listener: (event: never) => void) {
    this.#listeners[name] = listener
  }
  send(text: string) {
    this.sent.push(JSON.parse(text))
  }
  close() {}
  open = () => this.#listeners.open!({} as never)
  receive = (message: unknown) => this.#listeners.message!({ data: JSON.stringify(message) } as never)
  end = (code = 1006) => this.#listeners.close!({ code } as never)
}

function setUp(token: string | null, stored: string | null = null) {
  const sockets: FakeSocket[] = []
  const waits: { work: () => void; ms: number }[] = []
  const seen = {
    session: stored,
    spent: 0,
    connection: { at: 'connecting' } as Connection,
    events: [] as EngineEvent[],
  }
  const transport = new SocketTransport({
    open: () => (sockets.push(new FakeSocket()), sockets.at(-1)!),
    token,
    session: { get: () => seen.session, set: (session) => (seen.session = session) },
    onTokenSpent: () => seen.spent++,
    schedule: (work, ms) => (waits.push({ work, ms }), () => {}),
    now: () => 1000,
  })
  transport.watch((connection) => (seen.connection = connection))
  transport.listen((event) => seen.events.push(event))
  const last = () => sockets.at(-1)!
  const welcome = (session = 'S1') => {
    last().open()
    last().receive({ welcome: { session, version: '0.1.0', engine: 'ready' } })
  }
  return { transport, sockets, waits, seen, last, welcome }
}

describe('coming in', () => {
  test('the token of the address goes first; the session it buys is kept, and the address is cleaned', () => {
    const { last, seen, welcome } = setUp('T')
    welcome()
    expect(last().sent).toEqual([{ hello: { token: 'T' } }])
    expect(seen).toMatchObject({ session: 'S1', spent: 1, connection: { at: 'ready' } })
    expect(seen.events).toEqual([{ event: 'engine', state: 'ready' }])
  })

  test('later the session goes first', () => {
    const { last, welcome } = setUp(null, 'S0')
    welcome()
    expect(last().sent).toEqual([{ hello: { session: 'S0' } }])
  })

  test('an address opened a second time falls back on the session', () => {
    const { last, seen, sockets } = setUp('used', 'S0')
    last().open()
    last().receive({ denied: 'This address was used before.', ask: 'address' })
    last().end(CLOSED.denied)
    expect(sockets).toHaveLength(2)
    last().open()
    expect(last().sent).toEqual([{ hello: { session: 'S0' } }])
    expect(seen.spent).toBe(1)
  })

  test('one who is denied is told why, is not tried again, and loses the session that does not hold', () => {
    const { last, seen, sockets, waits } = setUp(null, 'old')
    last().open()
    last().receive({ denied: 'Open the printed address.', ask: 'address' })
    last().end(CLOSED.denied)
    expect(seen).toMatchObject({
      session: null,
      connection: { at: 'denied', text: 'Open the printed address.', ask: 'address' },
    })
    expect([sockets.length, waits.length]).toEqual([1, 0])
  })

  test('a pairing code that was typed is offered on a new connection', () => {
    const { transport, last, seen } = setUp(null)
    last().open()
    last().receive({ denied: 'Type the code.', ask: 'code' })
    last().end(CLOSED.denied)
    transport.pair('482 193')
    last().open()
    expect(last().sent).toEqual([{ hello: { code: '482 193' } }])
    last().receive({ welcome: { session: 'P', version: '0.1.0', engine: 'ready' } })
    expect(seen).toMatchObject({ session: 'P', connection: { at: 'ready' } })
  })
})

describe('asking', () => {
  test('answers find their questions in whatever order they come', async () => {
    const { transport, last, welcome } = setUp('T')
    welcome()
    const first = transport.ask('nights', {})
    const second = transport.ask('library', {})
    expect(last().sent.slice(1)).toEqual([
      { id: 1, request: 'nights', input: {} },
      { id: 2, request: 'library', input: {} },
    ])
    last().receive({ id: 2, answer: { masters: [] } })
    last().receive({ id: 1, answer: { nights: [] } })
    expect(await second).toEqual({ masters: [] })
    expect(await first).toEqual({ nights: [] })
  })

  test('a refusal keeps its class and its sentence, a fault of ours does not pass for one', async () => {
    const { transport, last, welcome } = setUp('T')
    welcome()
    const refused = transport.ask('unwatchFolder', { id: 1 })
    const failed = transport.ask('nights', {})
    last().receive({ id: 1, refused: 'No folder has this number.' })
    last().receive({ id: 2, failed: 'undefined is not a function' })
    await expect(refused).rejects.toThrow(new Refusal('No folder has this number.'))
    await expect(refused).rejects.toBeInstanceOf(Refusal)
    await expect(failed).rejects.not.toBeInstanceOf(Refusal)
  })

  test('what was pending when the connection ended is rejected, and so is what is asked without one', async () => {
    const { transport, last, welcome } = setUp('T')
    await expect(transport.ask('nights', {})).rejects.toBeInstanceOf(Disconnected)
    welcome()
    const pending = transport.ask('nights', {})
    last().end()
    await expect(pending).rejects.toBeInstanceOf(Disconnected)
  })
})

describe('coming back', () => {
  test('after any end but a denial it tries again by itself, more and more patiently', () => {
    const { last, seen, waits, welcome } = setUp('T')
    welcome()
    last().end(CLOSED.hostStops)
    expect(seen.connection).toEqual({ at: 'offline', retryAt: 1500 })
    for (let round = 0; round < 6; round++) {
      waits.at(-1)!.work()
      last().end()
    }
    expect(waits.map(({ ms }) => ms)).toEqual([500, 1000, 2000, 4000, 8000, 8000, 8000])
    waits.at(-1)!.work()
    welcome('S2')
    expect(last().sent[0]).toEqual({ hello: { session: 'S1' } })
    last().end()
    expect(waits.at(-1)!.ms).toBe(500)
  })

  test('a person may try at once, and a page that was closed does not come back', () => {
    const { transport, last, sockets, waits, welcome } = setUp('T')
    welcome()
    last().end()
    transport.retry()
    expect(sockets).toHaveLength(2)
    transport.close()
    last().end()
    expect(waits).toHaveLength(1)
  })
})

test('the socket stands beside the page, encrypted where the page is', () => {
  const page = (address: string) => new URL(address) as unknown as Location
  expect(socketAddress(page('http://127.0.0.1:4417/?look=warm#/tonight'))).toBe('ws://127.0.0.1:4417/socket')
  expect(socketAddress(page('https://hill.example/'))).toBe('wss://hill.example/socket')
})

test('files are fetched with the session', async () => {
  const seen: RequestInit[] = []
  const transport = new SocketTransport({
    open: () => new FakeSocket(),
    token: null,
    session: { get: () => 'S', set: () => {} },
    onTokenSpent: () => {},
    fetch: (async (_: unknown, init: RequestInit) => (seen.push(init), new Response())) as typeof fetch,
  })
  await transport.file('frame/1/thumbnail.png')
  expect(seen[0]!.headers).toEqual({ Authorization: 'Bearer S' })
})
