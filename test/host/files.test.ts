import { existsSync, mkdtempSync, readdirSync, readlinkSync, rmSync, writeFileSync } from 'node:fs'
import { createServer, get } from 'node:http'
import type { AddressInfo } from 'node:net'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { Readable } from 'node:stream'
import { pipeline } from 'node:stream/promises'
import { describe, expect, onTestFinished, test, vi } from 'vitest'
import type { EngineLink } from '../../main/contract/index.ts'
import { openFile, readRange } from '../../main/host/files.ts'

describe('one byte range, as RFC 9110 section 14.1.2 writes it', () => {
  // The examples of that section, for a representation of 10 000 bytes.
  test.each([
    ['bytes=0-499', { start: 0, end: 499 }],
    ['bytes=500-999', { start: 500, end: 999 }],
    ['bytes=-500', { start: 9_500, end: 9_999 }],
    ['bytes=9500-', { start: 9_500, end: 9_999 }],
  ])('%s', (range, part) => expect(readRange(range, 10_000)).toEqual(part))

  test.each([
    ['bytes=9999-20000', { start: 9_999, end: 9_999 }],
    ['bytes=-20000', { start: 0, end: 9_999 }],
    ['bytes=10000-', 'beyond'],
    ['bytes=-0', 'beyond'],
  ])('ends at the end of the file: %s', (range, part) => expect(readRange(range, 10_000)).toEqual(part))

  test.each([undefined, '', 'bytes=', 'bytes=-', 'bytes=5-4', 'bytes=0-1,3-4', 'lines=0-1', 'bytes=a-b', 'bytes=1e3-'])(
    'is ignored where it is malformed or several, and the whole file is answered: %s',
    (range) => expect(readRange(range, 10_000)).toBeNull(),
  )

  test('has nothing to give of an empty file', () => {
    expect(readRange('bytes=0-', 0)).toBe('beyond')
    expect(readRange('bytes=-5', 0)).toBe('beyond')
  })
})

/** Where the system tells which files a process has open. */
const OPEN_FILES = '/proc/self/fd'

describe.skipIf(!existsSync(OPEN_FILES))('a client that leaves midway', () => {
  function bigFile() {
    const folder = mkdtempSync(join(tmpdir(), 'nightshelf-files-'))
    onTestFinished(() => rmSync(folder, { recursive: true, force: true }))
    const path = join(folder, 'big.fits')
    writeFileSync(path, Buffer.alloc(40_000_000, 7))
    const link = { ask: async () => ({ path, type: 'application/fits' }) } as unknown as EngineLink
    const isOpen = () =>
      readdirSync(OPEN_FILES).some((fd) => {
        try {
          return readlinkSync(join(OPEN_FILES, fd)) === path
        } catch {
          return false
        }
      })
    return { link, isOpen }
  }

  test('of the headless host closes the file, and no more of it is read', async () => {
    const { link, isOpen } = bigFile()
    let body: Readable | undefined
    const server = createServer(async (_, response) => {
      const answer = (await openFile(link, 'frame/1/pixels'))!
      body = answer.body as Readable
      response.writeHead(answer.status, answer.headers)
      await pipeline(body, response).catch(() => response.destroy())
    })
    await new Promise<void>((resolve) => server.listen(0, '127.0.0.1', resolve))
    onTestFinished(() => void server.close())
    const request = get({ port: (server.address() as AddressInfo).port, agent: false })
    await new Promise<void>((resolve) => request.on('response', (response) => response.once('data', () => resolve())))
    expect(isOpen()).toBe(true)
    request.on('error', () => {}).destroy()
    await vi.waitFor(() => expect(isOpen()).toBe(false), 5000)
    expect(body!.destroyed).toBe(true)
    expect((body as unknown as { bytesRead: number }).bytesRead).toBeLessThan(40_000_000)
  })

  test('before the first byte closes the file too', async () => {
    const { link, isOpen } = bigFile()
    const answer = (await openFile(link, 'frame/1/pixels'))!
    expect(isOpen()).toBe(true)
    ;(answer.body as Readable).destroy()
    await vi.waitFor(() => expect(isOpen()).toBe(false), 5000)
  })

  test('of the Electron host, where the answer is a web stream, closes it as well', async () => {
    const { link, isOpen } = bigFile()
    const answer = (await openFile(link, 'frame/1/pixels', 'bytes=1000-'))!
    const response = new Response(Readable.toWeb(answer.body as Readable) as ReadableStream<Uint8Array>)
    const reader = response.body!.getReader()
    await reader.read()
    expect(isOpen()).toBe(true)
    await reader.cancel()
    await vi.waitFor(() => expect(isOpen()).toBe(false), 5000)
  })
})
