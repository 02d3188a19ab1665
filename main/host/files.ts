import { open } from 'node:fs/promises'
import type { Readable } from 'node:stream'
import { parseFileAddress, Refusal, type EngineLink } from '../contract/index.ts'
import { EngineAway } from './engine-link.ts'

/** An HTTP answer without a transport: headless writes it to a socket, Electron wraps it in a `Response`. */
export interface FileAnswer {
  status: 200 | 206 | 404 | 416 | 503
  headers: Record<string, string>
  /** The bytes asked for, streamed; a sentence where there are none. */
  body: Readable | string
}

const refused = (status: 404 | 416 | 503, sentence: string, headers: Record<string, string> = {}): FileAnswer => ({
  status,
  headers: { 'Content-Type': 'text/plain; charset=utf-8', 'Cache-Control': 'no-store', ...headers },
  body: sentence,
})

/**
 * Opens the file behind an address like `frame/12/pixels`. The page names it by id; its path comes from the engine alone.
 * The capture folder is only ever read, and a file that shrinks meanwhile ends the stream early rather than hanging it.
 * @param range the request's Range header, if any: one range of bytes is answered, several are answered whole
 * @returns null if the address is not one of a file
 */
export async function openFile(link: EngineLink, address: string, range?: string | null): Promise<FileAnswer | null> {
  const parsed = parseFileAddress(address)
  if (!parsed) return null
  let path: string, type: string
  try {
    ;({ path, type } = await link.ask('file', parsed))
  } catch (error) {
    if (!(error instanceof Refusal)) throw error
    return refused(error instanceof EngineAway ? 503 : 404, error.message)
  }
  return openPath(path, type, range)
}

async function openPath(path: string, type: string, range?: string | null): Promise<FileAnswer> {
  const handle = await open(path, 'r').catch(() => null)
  if (!handle) return refused(404, 'The file cannot be read now: its disk may be away.')
  const stat = await handle.stat()
  if (!stat.isFile()) {
    await handle.close()
    return refused(404, 'This is no file any more.')
  }
  const part = readRange(range, stat.size)
  if (part === 'beyond') {
    await handle.close()
    return refused(416, 'There are no such bytes in this file.', { 'Content-Range': `bytes */${stat.size}` })
  }
  const { start, end } = part ?? { start: 0, end: stat.size - 1 }
  const headers: Record<string, string> = {
    'Content-Type': type,
    'Content-Length': String(end - start + 1),
    'Accept-Ranges': 'bytes',
    'Cache-Control': 'private, no-cache',
    'Last-Modified': stat.mtime.toUTCString(),
  }
  if (part) headers['Content-Range'] = `bytes ${start}-${end}/${stat.size}`
  if (stat.size === 0) {
    await handle.close()
    return { status: 200, headers, body: '' }
  }
  return { status: part ? 206 : 200, headers, body: handle.createReadStream({ start, end, highWaterMark: 256 * 1024 }) }
}

/**
 * One byte range as RFC 9110 section 14.1.2 writes it: `bytes=0-499`, `bytes=500-`, `bytes=-500`.
 * Malformed and multiple ranges are ignored, as the standard allows: the answer is then the whole file.
 */
export function readRange(
  range: string | null | undefined,
  size: number,
): { start: number; end: number } | 'beyond' | null {
  const [, first, last] = /^bytes=(\d{0,15})-(\d{0,15})$/.exec(range ?? '') ?? []
  if (first === undefined || (first === '' && last === '')) return null
  if (first === '') {
    const length = Number(last)
    if (length === 0 || size === 0) return 'beyond'
    return { start: Math.max(0, size - length), end: size - 1 }
  }
  const start = Number(first)
  if (last !== '' && Number(last) < start) return null
  if (start >= size) return 'beyond'
  return { start, end: last === '' ? size - 1 : Math.min(Number(last), size - 1) }
}
