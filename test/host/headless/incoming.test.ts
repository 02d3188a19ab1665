import { existsSync, readdirSync, readFileSync } from 'node:fs'
import { request } from 'node:http'
import { join } from 'node:path'
import { setTimeout as pause } from 'node:timers/promises'
import { describe, expect, test } from 'vitest'
import { incomingPath, newIncoming, sweepIncoming } from '../../../main/engine/library/incoming.ts'
import { letIn, makeFolders, stage, type Stage } from '../support/headless.ts'

interface Send {
  name?: string
  body?: Buffer
  headers?: Record<string, string>
  /** Ends the connection after so many bytes. */
  cutAfter?: number
}

function send(
  host: Stage,
  session: string,
  { name = 'dark.fits', body = Buffer.alloc(2880, 7), headers, cutAfter }: Send,
) {
  return new Promise<{ status: number; text: string }>((resolve, reject) => {
    const post = request(
      {
        host: '127.0.0.1',
        port: host.headless.port,
        path: `/incoming?name=${encodeURIComponent(name)}`,
        method: 'POST',
        headers: { Origin: host.origin, Authorization: `Bearer ${session}`, 'Content-Length': body.length, ...headers },
      },
      (response) => {
        let text = ''
        response.setEncoding('utf8').on('data', (part) => (text += part))
        response.on('end', () => resolve({ status: response.statusCode!, text }))
      },
    )
    post.on('error', reject)
    if (cutAfter === undefined) post.end(body)
    else post.write(body.subarray(0, cutAfter), () => post.destroy())
  })
}

const incomingIn = ({ folders }: Stage) =>
  existsSync(join(folders.data, 'incoming')) ? readdirSync(join(folders.data, 'incoming')) : []

describe('a file that a page sends', () => {
  test('is put by below the data folder, byte for byte, under a name that only its sender learns', async () => {
    await using host = await stage()
    const { session } = await letIn(host)
    const body = Buffer.from(Uint8Array.from({ length: 200_000 }, (_, i) => i % 251))
    const { status, text } = await send(host, session, { body, name: 'Master dark −10 °C.fits' })
    expect(status).toBe(200)
    const { incoming } = JSON.parse(text) as { incoming: string }
    const path = incomingPath(host.folders.data, incoming)
    expect(path).toBe(join(host.folders.data, 'incoming', incoming, 'Master dark −10 °C.fits'))
    expect(readFileSync(path).equals(body)).toBe(true)
  })

  test('is refused without the session, and from any other origin or none', async () => {
    await using host = await stage()
    const { session } = await letIn(host)
    expect((await send(host, 'stranger', {})).status).toBe(401)
    expect((await send(host, session, { headers: { Origin: 'http://evil.example' } })).status).toBe(403)
    expect((await send(host, session, { headers: { Origin: '' } })).status).toBe(403)
    expect((await send(host, session, { headers: { Host: 'evil.example' } })).status).toBe(421)
    expect(incomingIn(host)).toEqual([])
  })

  test.each([
    ['../../evil.fits', 400],
    ['/etc/dark.fits', 400],
    ['.hidden.fits', 400],
    ['a\u0000b.fits', 400],
    ['C:\\dark.fits', 400],
    [`${'x'.repeat(300)}.fits`, 400],
    ['notes.txt', 415],
    ['', 415],
  ])('named “%s” is refused with %d and a sentence', async (name, status) => {
    await using host = await stage()
    const answer = await send(host, (await letIn(host)).session, { name })
    expect(answer.status).toBe(status)
    expect(answer.text).toMatch(/^[A-Z].*\.\n$/)
    expect(incomingIn(host)).toEqual([])
  })

  test('that is empty, or larger than any master, is refused before a byte is kept', async () => {
    await using host = await stage()
    const { session } = await letIn(host)
    expect((await send(host, session, { body: Buffer.alloc(0) })).status).toBe(411)
    const huge = send(host, session, { headers: { 'Content-Length': String(3 * 1024 ** 3) }, cutAfter: 10 })
    await huge.catch(() => {})
    expect(incomingIn(host)).toEqual([])
  })

  test('that breaks off leaves nothing', async () => {
    await using host = await stage()
    const { session } = await letIn(host)
    await send(host, session, { body: Buffer.alloc(500_000), cutAfter: 100_000 }).catch(() => {})
    for (let look = 0; look < 50 && incomingIn(host).length; look++) await pause(20)
    expect(incomingIn(host)).toEqual([])
  })
})

test('what nobody came back for within a day is thrown away; what still waits is counted', () => {
  const folders = makeFolders()
  const { path } = newIncoming(folders.data, 'dark.fits')
  expect(existsSync(join(path, '..'))).toBe(true)
  expect(sweepIncoming(folders.data, Date.now())).toBe(0)
  expect(sweepIncoming(folders.data, Date.now() + 25 * 3_600_000)).toBe(0)
  expect(existsSync(join(path, '..'))).toBe(false)
  folders.remove()
})
