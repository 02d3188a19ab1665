import { mkdtempSync, mkdirSync, rmSync, writeFileSync } from 'node:fs'
import { request } from 'node:http'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { fileURLToPath } from 'node:url'
import { WebSocket, type ClientOptions } from 'ws'
import type { FromHost, Hello } from '../../../main/contract/index.ts'
import { EngineKeeper } from '../../../main/host/engine-link.ts'
import { forkEngine } from '../../../main/host/headless/engine-process.ts'
import { startHeadless, type Headless, type HeadlessOptions } from '../../../main/host/headless/server.ts'

export const fakeEngine = fileURLToPath(new URL('./fake-engine.mjs', import.meta.url))

/** A folder with a page and a data folder (one file in it), removed at the end. */
export function makeFolders(dataName = 'data') {
  const root = mkdtempSync(join(tmpdir(), 'nightshelf-host-'))
  const page = join(root, 'page')
  const data = join(root, dataName)
  mkdirSync(join(page, 'assets'), { recursive: true })
  mkdirSync(data)
  writeFileSync(join(page, 'index.html'), '<!doctype html><title>page</title>')
  writeFileSync(join(page, 'assets', 'index-abc123.js'), 'export {}')
  writeFileSync(join(root, 'secret.txt'), 'not for the page')
  writeFileSync(
    join(data, 'one.fits'),
    Uint8Array.from({ length: 1000 }, (_, i) => i % 251),
  )
  return { root, page, data, remove: () => rmSync(root, { recursive: true, force: true }) }
}

export interface Stage extends AsyncDisposable {
  engine: EngineKeeper
  headless: Headless
  log: string[]
  renewed: string[]
  folders: ReturnType<typeof makeFolders>
  /** `http://127.0.0.1:PORT` */
  origin: string
}

/** The headless host in this process, with a fake engine in one of its own. */
export async function stage(options: Partial<HeadlessOptions> = {}, folders = makeFolders()): Promise<Stage> {
  const log: string[] = []
  const renewed: string[] = []
  const engine = new EngineKeeper({
    start: () => forkEngine(fakeEngine, folders.data),
    log: (line) => log.push(line),
    pausesMs: [20],
  })
  const headless = await startHeadless({
    engine,
    pageDir: folders.page,
    dataDir: folders.data,
    port: 0,
    lan: false,
    origins: [],
    version: '0.0.0-test',
    log: (line) => log.push(line),
    renewed: (what) => renewed.push(what),
    ...options,
  })
  await engine.opened
  return {
    engine,
    headless,
    log,
    renewed,
    folders,
    origin: `http://127.0.0.1:${headless.port}`,
    [Symbol.asyncDispose]: async () => {
      await headless.close()
      await engine.close()
      folders.remove()
    },
  }
}

export const tokenOf = (address: string): string => address.split('#t=')[1]

/** What came of an attempt to open the socket: a page, or the status that refused it. */
export class Page {
  readonly received: FromHost[] = []
  readonly closed: Promise<number>
  readonly #socket: WebSocket
  readonly #waiting: { matches: (message: FromHost) => boolean; resolve: (message: FromHost) => void }[] = []
  #nextId = 1

  constructor(socket: WebSocket) {
    this.#socket = socket
    this.closed = new Promise((resolve) => socket.on('close', resolve))
    socket.on('message', (data) => {
      const message = JSON.parse(String(data)) as FromHost
      this.received.push(message)
      for (const waiting of this.#waiting) if (waiting.matches(message)) waiting.resolve(message)
    })
  }

  static open(origin: string, options: ClientOptions = { origin }, path = '/socket'): Promise<Page | number> {
    const socket = new WebSocket(`${origin.replace('http', 'ws')}${path}`, options)
    return new Promise((resolve, reject) => {
      socket.on('unexpected-response', (_request, response) => resolve(response.statusCode ?? 0))
      socket.on('error', reject)
      const page = new Page(socket)
      socket.on('open', () => resolve(page))
    })
  }

  /** Opens the socket as a page of this host does, and says hello. */
  static async greet(origin: string, hello: Hello['hello']): Promise<{ page: Page; first: FromHost }> {
    const page = await Page.open(origin)
    if (!(page instanceof Page)) throw new Error(`refused with ${page}`)
    const first = page.next(() => true)
    page.send({ hello })
    return { page, first: await first }
  }

  /** The next message that matches, whether it is yet to come or not. */
  next(matches: (message: FromHost) => boolean): Promise<FromHost> {
    const here = this.received.find(matches)
    if (here) return Promise.resolve(here)
    return new Promise((resolve) => this.#waiting.push({ matches, resolve }))
  }

  send(message: unknown): void {
    this.#socket.send(typeof message === 'string' ? message : JSON.stringify(message))
  }

  ask(request: string, input: unknown = {}): Promise<FromHost> {
    const id = this.#nextId++
    this.send({ id, request, input })
    return this.next((message) => 'id' in message && message.id === id)
  }

  close(): void {
    this.#socket.close()
  }
}

/** A page that was let in with the token. */
export async function letIn(stage: Stage): Promise<{ page: Page; session: string }> {
  const { page, first } = await Page.greet(stage.origin, { token: tokenOf(stage.headless.address()) })
  if (!('welcome' in first)) throw new Error(`not let in: ${JSON.stringify(first)}`)
  return { page, session: first.welcome.session }
}

export interface Got {
  status: number
  headers: Record<string, string>
  body: Buffer
}

/** One request with exactly these headers and this path; `fetch` would not let a test lie about either. */
export function get(port: number, path: string, headers: Record<string, string> = {}, method = 'GET'): Promise<Got> {
  return new Promise((resolve, reject) => {
    request({ port, host: '127.0.0.1', path, headers, method }, async (response) => {
      const body = Buffer.concat(await response.toArray())
      resolve({ status: response.statusCode ?? 0, headers: response.headers as Record<string, string>, body })
    })
      .on('error', reject)
      .end()
  })
}

/** Waits until something holds that other processes bring about; a test's own time limit ends it. */
export async function untilTrue(holds: () => boolean): Promise<void> {
  while (!holds()) await new Promise((resolve) => setTimeout(resolve, 10))
}
