import { createServer, type IncomingMessage, type Server, type ServerResponse } from 'node:http'
import { existsSync } from 'node:fs'
import { join } from 'node:path'
import { Readable } from 'node:stream'
import { pipeline } from 'node:stream/promises'
import type { AddressInfo } from 'node:net'
import type { Duplex } from 'node:stream'
import sirv from 'sirv'
import { WebSocketServer, type WebSocket } from 'ws'
import { CLOSED, MAX_MESSAGE_BYTES, Refusal, SOCKET_PATH } from '../../contract/index.ts'
import type { EngineKeeper } from '../engine-link.ts'
import { openFile } from '../files.ts'
import { pageHeaders, trustedOriginHeaders } from '../page-headers.ts'
import { IncomingFiles } from './incoming.ts'
import { Keys } from './keys.ts'
import { RateLimit, usualLimits, type Limits } from './rate.ts'
import { SessionStore } from './sessions.ts'
import { Visitor } from './visitor.ts'
import { doorkeeper, lanAddress, ownAuthorities, type Doorkeeper } from './who.ts'

/** Fixed, so that a bookmark and a stored session stay good. Not assigned to any service. */
export const DEFAULT_PORT = 28417

const PING_MS = 30_000

export interface HeadlessOptions {
  engine: EngineKeeper
  /** The built page: the folder with index.html. */
  pageDir: string
  /** Where the sessions are remembered. */
  dataDir: string
  port: number
  /** Whether other machines of the network may come in, with a pairing code. */
  lan: boolean
  /** Origins of the user's own proxy or tunnel. */
  origins: string[]
  limits?: Partial<Limits>
  version: string
  log: (line: string) => void
  /** A key was used up or guessed at: the address or code to show from now on. */
  renewed: (what: 'token' | 'code') => void
}

export interface Headless {
  /** For this machine's browser, with the token in its fragment. */
  address(): string
  /** For other machines, without a token; null unless `lan`. */
  lanAddress: string | null
  /** What to type there. */
  code(): string | null
  port: number
  close(): Promise<void>
}

/** Serves the page, its files and its socket. Rejects with a `Refusal` if the port is taken or the page is not built. */
export async function startHeadless(options: HeadlessOptions): Promise<Headless> {
  if (!existsSync(join(options.pageDir, 'index.html')))
    throw new Refusal('The window is not built: run "npm run build" in the Nightshelf folder, then start again.')
  const sessions = new SessionStore(join(options.dataDir, 'sessions.json'))
  const keys = new Keys({ sessions, pairing: options.lan, renewed: options.renewed })
  // A master may take minutes over a slow network; headers may not.
  const server = createServer({ requestTimeout: 20 * 60_000, headersTimeout: 10_000 })
  server.maxConnections = 300
  const port = await listen(server, options)
  const door = doorkeeper(() => ownAuthorities(port, options.lan), options.origins)
  server.on('request', answerWith(door, sessions, options))
  const sockets = acceptSockets(server, door, keys, options)
  const outside = options.lan ? lanAddress() : null
  return {
    address: () => `http://127.0.0.1:${port}/#t=${keys.token}`,
    lanAddress: outside && `http://${outside}:${port}/`,
    code: () => keys.code,
    port,
    close: () => closeAll(server, sockets),
  }
}

function listen(server: Server, { port, lan }: HeadlessOptions): Promise<number> {
  return new Promise((resolve, reject) => {
    server.once('error', (error: NodeJS.ErrnoException) => {
      if (error.code === 'EADDRINUSE')
        reject(
          new Refusal(
            `Port ${port} is taken, perhaps by a Nightshelf that already runs: use that one, or start with --port 0 for a free port.`,
          ),
        )
      else if (error.code === 'EACCES')
        reject(new Refusal(`Port ${port} may not be used by this account: start with a port above 1023, or --port 0.`))
      else reject(error)
    })
    server.listen(port, lan ? '0.0.0.0' : '127.0.0.1', () => resolve((server.address() as AddressInfo).port))
  })
}

/**
 * The answer to any HTTP request. Nothing here changes anything, whatever does goes through the socket; but for the bytes of a file that a
 * page sends, which are only put by until it asks to add them.
 */
function answerWith(door: Doorkeeper, sessions: SessionStore, options: HeadlessOptions) {
  const { engine, pageDir, log, limits } = options
  const incoming = new IncomingFiles(options.dataDir)
  const rate = new RateLimit({ ...usualLimits, ...limits }.requests)
  const page = sirv(pageDir, {
    etag: true,
    setHeaders: (response, path) =>
      response.setHeader('Cache-Control', path.startsWith('/assets/') ? 'max-age=31536000, immutable' : 'no-cache'),
    onNoMatch: (_request, response) => say(response, 404, 'There is nothing at this address.'),
  })
  return (request: IncomingMessage, response: ServerResponse) => {
    const headers = door.isTrustworthy(request) ? trustedOriginHeaders : pageHeaders
    for (const [name, value] of Object.entries(headers)) response.setHeader(name, value)
    if (!door.hostIsOurs(request)) return say(response, 421, 'This is not the name of this machine.')
    if (door.isForeign(request)) return say(response, 403, 'Pages of other sites are not answered.')
    if (request.method === 'POST' && isIncoming(request)) {
      if (!door.originIsOurs(request)) return sayAndClose(response, 403, 'Only the page of this host may send files.')
      if (!hasSession(sessions, request)) return sayAndClose(response, 401, 'This needs the session of an open page.')
      if (!rate.allows()) return sayAndClose(response, 429, 'Too many requests at once; try again in a moment.')
      void takeIncoming(incoming, request, response).catch((error: Error) => {
        log(`A fault while a file was being sent: ${error.stack}`)
        if (!response.headersSent) sayAndClose(response, 500, "This failed through a fault of Nightshelf's own.")
      })
      return
    }
    if (request.method !== 'GET' && request.method !== 'HEAD') {
      response.setHeader('Allow', 'GET, HEAD')
      return say(response, 405, 'Only GET is answered here.')
    }
    if (!rate.allows()) return say(response, 429, 'Too many requests at once; try again in a moment.')
    void answerFile(engine, sessions, request, response)
      .then((answered) => answered || page(request, response))
      .catch((error: Error) => {
        log(`A fault while answering ${request.url}: ${error.stack}`)
        if (!response.headersSent) say(response, 500, "This failed through a fault of Nightshelf's own.")
        else response.destroy()
      })
  }
}

/** @returns false if the address is not one of a frame's or master's file */
async function answerFile(
  engine: EngineKeeper,
  sessions: SessionStore,
  request: IncomingMessage,
  response: ServerResponse,
): Promise<boolean> {
  const address = (request.url ?? '/').slice(1).split('?', 1)[0]
  if (!/^(frame|master|check)\//.test(address)) return false
  if (!hasSession(sessions, request)) {
    say(response, 401, 'This needs the session of an open page.')
    return true
  }
  const file = await openFile(engine, address, request.headers.range)
  if (!file) return false
  response.writeHead(file.status, file.headers)
  if (!(file.body instanceof Readable)) response.end(request.method === 'HEAD' ? undefined : file.body)
  else if (request.method === 'HEAD') {
    file.body.destroy()
    response.end()
  } else await pipeline(file.body, response).catch(() => response.destroy())
  return true
}

function hasSession(sessions: SessionStore, { headers }: IncomingMessage): boolean {
  const [, session] = /^Bearer ([\w-]{1,200})$/.exec(headers.authorization ?? '') ?? []
  return session !== undefined && sessions.has(session)
}

/** `/incoming?name=dark.fits` */
const isIncoming = ({ url = '' }: IncomingMessage) => /^\/incoming\?name=/.test(url)

async function takeIncoming(
  incoming: IncomingFiles,
  request: IncomingMessage,
  response: ServerResponse,
): Promise<void> {
  const name = new URL(request.url ?? '/', 'http://host').searchParams.get('name') ?? ''
  const answer = await incoming.take(request, name)
  if ('refused' in answer) return sayAndClose(response, answer.status, answer.refused)
  response.writeHead(200, { 'Content-Type': 'application/json', 'Cache-Control': 'no-store' })
  response.end(JSON.stringify({ incoming: answer.incoming }))
}

/** What is still being sent is not read: the connection ends with the sentence. */
function sayAndClose(response: ServerResponse, status: number, sentence: string): void {
  response.setHeader('Connection', 'close')
  say(response, status, sentence)
}

function say(response: ServerResponse, status: number, sentence: string): void {
  response.writeHead(status, { 'Content-Type': 'text/plain; charset=utf-8', 'Cache-Control': 'no-store' })
  response.end(`${sentence}\n`)
}

function acceptSockets(server: Server, door: Doorkeeper, keys: Keys, options: HeadlessOptions): WebSocketServer {
  const sockets = new WebSocketServer({ noServer: true, maxPayload: MAX_MESSAGE_BYTES, perMessageDeflate: false })
  const visitors = new Map<WebSocket, Visitor>()
  server.on('upgrade', (request: IncomingMessage, stream: Duplex, head: Buffer) => {
    stream.on('error', () => stream.destroy())
    if (request.url !== SOCKET_PATH) return refuseUpgrade(stream, '404 Not Found')
    if (!door.hostIsOurs(request)) return refuseUpgrade(stream, '421 Misdirected Request')
    if (!door.originIsOurs(request)) return refuseUpgrade(stream, '403 Forbidden')
    sockets.handleUpgrade(request, stream, head, (socket) => {
      visitors.set(socket, new Visitor(socket, { ...options, keys, limits: { ...usualLimits, ...options.limits } }))
      socket.on('close', () => visitors.delete(socket))
    })
  })
  const ping = setInterval(() => {
    for (const [socket, visitor] of visitors) {
      if (!visitor.alive) socket.terminate()
      visitor.alive = false
      socket.ping()
    }
  }, PING_MS)
  ping.unref()
  sockets.on('close', () => clearInterval(ping))
  return sockets
}

function refuseUpgrade(stream: Duplex, status: string): void {
  stream.end(`HTTP/1.1 ${status}\r\nConnection: close\r\nContent-Length: 0\r\n\r\n`)
}

async function closeAll(server: Server, sockets: WebSocketServer): Promise<void> {
  for (const socket of sockets.clients) socket.close(CLOSED.hostStops, 'Nightshelf stops')
  const closed = new Promise<void>((resolve) => server.close(() => resolve()))
  sockets.close()
  // Pages answer the closing handshake at once; what does not is cut.
  const cut = setTimeout(() => {
    for (const socket of sockets.clients) socket.terminate()
    server.closeAllConnections()
  }, 500)
  server.closeIdleConnections()
  await closed
  clearTimeout(cut)
}
