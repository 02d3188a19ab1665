import { readFileSync, statSync } from 'node:fs'
import { describe, expect, test } from 'vitest'
import { lanAddress } from '../../../main/host/headless/who.ts'
import { get, letIn, makeFolders, Page, stage, tokenOf } from '../support/headless.ts'

describe('coming in', () => {
  test('the printed address carries 256 bits in its fragment, on loopback', async () => {
    await using host = await stage()
    const address = new URL(host.headless.address())
    expect(address.hostname).toBe('127.0.0.1')
    expect(address.search).toBe('')
    expect(Buffer.from(address.hash.slice('#t='.length), 'base64url')).toHaveLength(32)
  })

  test('the token is exchanged for a session, which opens the socket again later', async () => {
    await using host = await stage()
    const { session } = await letIn(host)
    const again = await Page.greet(host.origin, { session })
    expect(again.first).toEqual({ welcome: { session, version: '0.0.0-test', engine: 'ready' } })
  })

  test('a token serves once; a fresh address is announced for the next browser', async () => {
    await using host = await stage()
    const token = tokenOf(host.headless.address())
    await Page.greet(host.origin, { token })
    const { page, first } = await Page.greet(host.origin, { token })
    expect(first).toMatchObject({ denied: expect.stringContaining('newest'), ask: 'address' })
    expect(await page.closed).toBe(4403)
    expect(host.renewed).toEqual(['token'])
    expect(await letIn(host)).toHaveProperty('session')
  })

  test('a session outlives the host, and its file opens nothing by itself', async () => {
    const folders = makeFolders()
    let session: string
    {
      const first = await stage({}, { ...folders, remove: () => {} })
      ;({ session } = await letIn(first))
      await first[Symbol.asyncDispose]()
    }
    await using host = await stage({}, folders)
    expect((await Page.greet(host.origin, { session })).first).toHaveProperty('welcome')
    const file = `${folders.data}/sessions.json`
    const [{ hash }] = JSON.parse(readFileSync(file, 'utf8'))
    expect(readFileSync(file, 'utf8')).not.toContain(session)
    expect((await Page.greet(host.origin, { session: hash })).first).toHaveProperty('denied')
    if (process.platform !== 'win32') expect(statSync(file).mode & 0o077).toBe(0)
  })

  test('a wrong token, a wrong session, a code that was not asked for and no hello at all are denied in a sentence', async () => {
    await using host = await stage()
    for (const hello of [{ token: 'x'.repeat(43) }, { session: 'x'.repeat(43) }, { code: 'AAAA2222' }]) {
      const { page, first } = await Page.greet(host.origin, hello)
      expect(first).toHaveProperty('denied')
      expect(await page.closed).toBe(4403)
    }
    const silent = (await Page.open(host.origin)) as Page
    silent.send({ id: 1, request: 'nights', input: {} })
    expect(await silent.closed).toBe(4403)
    expect(silent.received).toEqual([{ denied: expect.any(String), ask: 'address' }])
  })
})

describe('who is asking', () => {
  test('only the own origin opens the socket: another, an opaque one and a missing one are refused', async () => {
    await using host = await stage()
    const refused = async (origin: string | undefined) => Page.open(host.origin, origin === undefined ? {} : { origin })
    expect(await refused(undefined)).toBe(403)
    expect(await refused('null')).toBe(403)
    expect(await refused('http://evil.example')).toBe(403)
    expect(await refused(`http://127.0.0.1:${host.headless.port + 1}`)).toBe(403)
    expect(await refused(host.origin.replace('http:', 'https:'))).toBe(403)
    // A page under the one name is no page of the other: the Origin must be that of the very Host.
    expect(await refused(`http://localhost:${host.headless.port}`)).toBe(403)
    expect(await Page.open(host.origin)).toBeInstanceOf(Page)
  })

  test('a foreign name that resolves to this machine is refused, for the page and for the socket', async () => {
    await using host = await stage()
    const evil = `evil.example:${host.headless.port}`
    expect(await Page.open(host.origin, { origin: `http://${evil}`, headers: { Host: evil } })).toBe(421)
    expect(await get(host.headless.port, '/', { Host: evil })).toMatchObject({ status: 421 })
    expect(await get(host.headless.port, '/', { Host: '127.0.0.1' })).toMatchObject({ status: 421 })
    expect(await get(host.headless.port, '/', { Host: `localhost:${host.headless.port}` })).toMatchObject({
      status: 200,
    })
  })

  test("another site's page gets nothing, not even by reading", async () => {
    await using host = await stage()
    const { port } = host.headless
    expect(await get(port, '/', { Origin: 'http://evil.example' })).toMatchObject({ status: 403 })
    const embedded = { 'Sec-Fetch-Site': 'cross-site', 'Sec-Fetch-Mode': 'no-cors' }
    expect(await get(port, '/assets/index-abc123.js', embedded)).toMatchObject({ status: 403 })
    const neighbour = { 'Sec-Fetch-Site': 'same-site', 'Sec-Fetch-Mode': 'no-cors' }
    expect(await get(port, '/assets/index-abc123.js', neighbour)).toMatchObject({ status: 403 })
    const link = { 'Sec-Fetch-Site': 'cross-site', 'Sec-Fetch-Mode': 'navigate' }
    expect(await get(port, '/', link)).toMatchObject({ status: 200 })
  })

  test('the origin of a proxy that the user named is let in, with its own Host', async () => {
    await using host = await stage({ origins: ['https://scope.example'] })
    const headers = { Host: 'scope.example' }
    expect(await Page.open(host.origin, { origin: 'https://scope.example', headers })).toBeInstanceOf(Page)
    expect(await Page.open(host.origin, { origin: 'http://scope.example', headers })).toBe(403)
  })
})

describe('other machines', () => {
  test('without --lan the host listens on loopback alone and has no pairing code', async () => {
    await using host = await stage()
    expect(host.headless.code()).toBeNull()
    expect(host.headless.lanAddress).toBeNull()
    const outside = lanAddress()
    if (outside) await expect(fetch(`http://${outside}:${host.headless.port}/`)).rejects.toThrow('fetch failed')
  })

  test('with --lan a pairing code lets a browser in, however it is typed', async () => {
    await using host = await stage({ lan: true })
    const code = host.headless.code()!
    expect(code).toMatch(/^[A-Z2-9]{8}$/)
    const typed = ` ${code.slice(0, 4).toLowerCase()}-${code.slice(4)} `
    expect((await Page.greet(host.origin, { code: typed })).first).toHaveProperty('welcome')
  })

  test('ten wrong codes make a new one, so guessing gets nowhere', async () => {
    await using host = await stage({ lan: true })
    const code = host.headless.code()!
    const wrong = code === 'AAAAAAAA' ? 'BBBBBBBB' : 'AAAAAAAA'
    for (let i = 0; i < 10; i++)
      expect((await Page.greet(host.origin, { code: wrong })).first).toMatchObject({ ask: 'code' })
    expect(host.renewed).toEqual(['code'])
    expect((await Page.greet(host.origin, { code })).first).toHaveProperty('denied')
    expect((await Page.greet(host.origin, { code: host.headless.code()! })).first).toHaveProperty('welcome')
  })
})
