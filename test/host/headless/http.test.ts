import { appendFileSync, truncateSync } from 'node:fs'
import { describe, expect, test } from 'vitest'
import { get, letIn, stage } from '../support/headless.ts'

describe('the page', () => {
  test('is served with a policy that allows nothing from elsewhere and nothing inline', async () => {
    await using host = await stage()
    for (const path of ['/', '/nowhere', '/frame/1/pixels']) {
      const { headers } = await get(host.headless.port, path)
      const policy = headers['content-security-policy']
      expect(policy).toMatch(/^default-src 'none'; /)
      expect(policy).not.toMatch(/unsafe-|\*|data:|https?:/)
      for (const part of ["connect-src 'self'", "frame-ancestors 'none'", "form-action 'none'", "base-uri 'none'"])
        expect(policy).toContain(part)
      expect(headers).toMatchObject({
        'x-content-type-options': 'nosniff',
        'referrer-policy': 'no-referrer',
        'x-frame-options': 'DENY',
        'cross-origin-resource-policy': 'same-origin',
      })
      expect(headers).not.toHaveProperty('access-control-allow-origin')
    }
  })

  test('is kept apart from windows that opened it, where a browser heeds that', async () => {
    await using host = await stage({ lan: true, origins: ['https://scope.example', 'http://scope.test'] })
    const opener = async (name: string) =>
      (await get(host.headless.port, '/', { Host: name })).headers['cross-origin-opener-policy']
    expect(await opener(`127.0.0.1:${host.headless.port}`)).toBe('same-origin')
    expect(await opener('scope.example')).toBe('same-origin')
    expect(await opener('scope.test')).toBeUndefined()
  })

  test('is always asked for anew, while its named assets are kept for good', async () => {
    await using host = await stage()
    expect((await get(host.headless.port, '/')).headers['cache-control']).toBe('no-cache')
    const asset = await get(host.headless.port, '/assets/index-abc123.js')
    expect(asset.headers['cache-control']).toContain('immutable')
    expect(asset.headers['content-type']).toMatch('javascript')
  })

  test('nothing outside its folder can be reached, however the path is written', async () => {
    await using host = await stage()
    for (const path of [
      '/../secret.txt',
      '/assets/../../secret.txt',
      '/%2e%2e/secret.txt',
      '/..%2fsecret.txt',
      '/assets/%2e%2e%2f%2e%2e%2fsecret.txt',
      '/..\\secret.txt',
      '//etc/passwd',
      '/%00',
      '/%',
      `${host.folders.root}/secret.txt`,
    ]) {
      const { status, body } = await get(host.headless.port, path)
      expect([path, status]).toEqual([path, 404])
      expect(body.toString()).not.toContain('not for the page')
    }
  })

  test('nothing but GET and HEAD is answered, and a GET changes nothing', async () => {
    await using host = await stage()
    for (const method of ['POST', 'PUT', 'PATCH', 'DELETE', 'OPTIONS', 'PROPFIND'])
      expect(await get(host.headless.port, '/', {}, method)).toMatchObject({
        status: 405,
        headers: { allow: 'GET, HEAD' },
      })
    const { page, session } = await letIn(host)
    const before = await page.ask('folders')
    const bearer = { Authorization: `Bearer ${session}` }
    for (const path of [
      '/watchFolder?path=/x',
      '/socket?request=watchFolder',
      '/frame/1/pixels?watchFolder=/x',
      '/shutDown',
    ])
      await get(host.headless.port, path, bearer)
    expect(await page.ask('folders')).toMatchObject({ answer: (before as { answer: unknown }).answer })
    expect(host.engine.state).toBe('ready')
  })

  test('too many requests at once are turned away for the moment', async () => {
    await using host = await stage({ limits: { requests: { perS: 0.01, burst: 5 } } })
    const statuses: number[] = []
    for (let i = 0; i < 7; i++) statuses.push((await get(host.headless.port, '/')).status)
    expect(statuses).toEqual([200, 200, 200, 200, 200, 429, 429])
  })
})

describe('files of frames', () => {
  test('are given by id, whole or in part, to an open page alone', async () => {
    await using host = await stage()
    const { session } = await letIn(host)
    const { port } = host.headless
    const bearer = { Authorization: `Bearer ${session}` }
    const bytes = Buffer.from(Uint8Array.from({ length: 1000 }, (_, i) => i % 251))
    const whole = await get(port, '/frame/1/pixels', bearer)
    expect(whole).toMatchObject({
      status: 200,
      headers: { 'content-type': 'application/fits', 'accept-ranges': 'bytes' },
    })
    expect(whole.body.equals(bytes)).toBe(true)
    const part = await get(port, '/frame/1/pixels', { ...bearer, Range: 'bytes=10-19' })
    expect(part).toMatchObject({
      status: 206,
      headers: { 'content-range': 'bytes 10-19/1000', 'content-length': '10' },
    })
    expect(part.body.equals(bytes.subarray(10, 20))).toBe(true)
    expect(
      (await get(port, '/frame/1/pixels', { ...bearer, Range: 'bytes=-1' })).body.equals(bytes.subarray(999)),
    ).toBe(true)
    expect(await get(port, '/frame/1/pixels', { ...bearer, Range: 'bytes=1000-' })).toMatchObject({
      status: 416,
      headers: { 'content-range': 'bytes */1000' },
    })
    const head = await get(port, '/frame/1/pixels', bearer, 'HEAD')
    expect(head).toMatchObject({ status: 200, headers: { 'content-length': '1000' }, body: Buffer.alloc(0) })
    expect((await get(port, '/frame/1/thumbnail.png', bearer)).headers['content-type']).toBe('image/png')
  })

  test('are refused without a session, with a wrong one, and with the token', async () => {
    await using host = await stage()
    const token = host.headless.address().split('#t=')[1]
    for (const authorization of [undefined, 'Bearer', 'Bearer x', `Bearer ${token}`, `Basic ${token}`])
      expect(
        await get(host.headless.port, '/frame/1/pixels', authorization ? { Authorization: authorization } : {}),
      ).toMatchObject({ status: 401 })
  })

  test('are never named by path', async () => {
    await using host = await stage()
    const { session } = await letIn(host)
    for (const path of [
      '/frame/2/pixels',
      '/frame/1/secret.txt',
      '/frame/../pixels',
      '/frame/1/pixels/..',
      '/frame/01/pixels',
    ])
      expect(await get(host.headless.port, path, { Authorization: `Bearer ${session}` })).toMatchObject({ status: 404 })
  })

  test('a file that grows or shrinks while it is sent harms nothing', async () => {
    await using host = await stage()
    const { session } = await letIn(host)
    const path = `${host.folders.data}/one.fits`
    truncateSync(path, 50_000_000)
    const reading = get(host.headless.port, '/frame/1/pixels', { Authorization: `Bearer ${session}` })
    truncateSync(path, 10)
    await reading.catch((error: NodeJS.ErrnoException) => expect(error.code).toBe('ECONNRESET'))
    appendFileSync(path, 'more')
    expect(await get(host.headless.port, '/frame/1/pixels', { Authorization: `Bearer ${session}` })).toMatchObject({
      status: 200,
      headers: { 'content-length': '14' },
    })
  })
})
