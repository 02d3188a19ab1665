import { protocol } from 'electron'
import { readdirSync } from 'node:fs'
import { readFile } from 'node:fs/promises'
import { extname, join, relative, sep } from 'node:path'
import { Readable } from 'node:stream'
import type { EngineLink } from '../../contract/index.ts'
import { openFile } from '../files.ts'
import { trustedOriginHeaders as pageHeaders } from '../page-headers.ts'
import { isOwnAddress, SCHEME } from './origin.ts'

const TYPES: Record<string, string> = {
  '.html': 'text/html; charset=utf-8',
  '.js': 'text/javascript; charset=utf-8',
  '.css': 'text/css; charset=utf-8',
  '.json': 'application/json',
  '.svg': 'image/svg+xml',
  '.png': 'image/png',
  '.ico': 'image/vnd.microsoft.icon',
  '.woff2': 'font/woff2',
  '.txt': 'text/plain; charset=utf-8',
}

/** Must be said before Electron is ready. The page then has an origin of its own, and no power of `file:`. */
export function claimScheme(): void {
  const privileges = { standard: true, secure: true, supportFetchAPI: true, stream: true, codeCache: true }
  protocol.registerSchemesAsPrivileged([{ scheme: SCHEME, privileges }])
}

/** Serves the page and, under the same relative addresses as the headless host, the files of frames and masters by id. */
export function serveScheme(engine: EngineLink, pageDir: string, log: (line: string) => void): void {
  const page = listPage(pageDir)
  protocol.handle(SCHEME, async (request) => {
    try {
      return await answer(engine, page, request)
    } catch (error) {
      log(`A fault while answering ${request.url}: ${(error as Error).stack}`)
      return say(500, "This failed through a fault of Nightshelf's own.")
    }
  })
}

async function answer(engine: EngineLink, page: Map<string, string>, request: Request): Promise<Response> {
  if (!isOwnAddress(request.url)) return say(404, 'There is nothing at this address.')
  if (request.method !== 'GET' && request.method !== 'HEAD') return say(405, 'Only GET is answered here.')
  const address = new URL(request.url).pathname.slice(1)
  const file = await openFile(engine, address, request.headers.get('Range'))
  if (file) {
    const body = file.body instanceof Readable ? (Readable.toWeb(file.body) as ReadableStream<Uint8Array>) : file.body
    return new Response(body, { status: file.status, headers: { ...pageHeaders, ...file.headers } })
  }
  const path = page.get(address === '' ? 'index.html' : address)
  if (!path) return say(404, 'There is nothing at this address.')
  const type = TYPES[extname(path)] ?? 'application/octet-stream'
  return new Response(await readFile(path), { headers: { ...pageHeaders, 'Content-Type': type } })
}

/** Every file of the built page by its address. What is not in the list is not served, whatever the address looks like. */
function listPage(pageDir: string): Map<string, string> {
  const files = readdirSync(pageDir, { recursive: true, withFileTypes: true }).filter((entry) => entry.isFile())
  const paths = files.map((entry) => join(entry.parentPath, entry.name))
  return new Map(paths.map((path) => [relative(pageDir, path).split(sep).join('/'), path]))
}

function say(status: number, sentence: string): Response {
  return new Response(`${sentence}\n`, {
    status,
    headers: { ...pageHeaders, 'Content-Type': 'text/plain; charset=utf-8' },
  })
}
