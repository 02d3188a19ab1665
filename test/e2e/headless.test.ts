import { mkdtempSync, readFileSync, rmSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterAll, beforeAll, describe, expect, test } from 'vitest'
import type { Browser, Page } from 'playwright-core'
import { collectTroubles, launchChromium } from './support/chromium.ts'
import { Host, root, runCommandLine, Running } from './support/host.ts'
import { soon } from './support/soon.ts'

let browser: Browser
beforeAll(async () => void (browser = await launchChromium()))
afterAll(() => browser?.close())

const heading = (page: Page) => page.locator('main h1').first()
const session = (page: Page) =>
  page.evaluate(() => Object.entries(localStorage).find(([key]) => /session/.test(key))?.[1])

describe('the printed address, in a real browser', () => {
  test('opens Tonight, takes the token out of the address, and stays good over a reload, without a complaint', async () => {
    await using host = await Host.start()
    const page = await browser.newPage()
    const troubles = collectTroubles(page)
    await page.goto(host.address)
    await soon(() => page.url()).toBe(`${host.origin}/#/tonight`)
    await soon(() => heading(page).count()).toBe(1)
    expect(await session(page)).toBeTruthy()
    await page.reload()
    await soon(() => heading(page).count()).toBe(1)
    expect(page.url()).not.toContain('t=')
    expect(troubles).toEqual([])
    await page.close()
  })

  test('lets nobody else in once it was used; the next printed one does', async () => {
    await using host = await Host.start()
    const used = host.address
    const [first, second] = [await browser.newContext(), await browser.newContext()]
    const page = await first.newPage()
    await page.goto(used)
    await soon(() => session(page)).toBeTruthy()
    const other = await second.newPage()
    await other.goto(used)
    await soon(() => other.locator('body').innerText()).toContain('This address was used already')
    expect(await session(other)).toBeFalsy()
    // Who is not let in stands in no place.
    expect(await other.locator('nav [aria-current]').count()).toBe(0)
    await soon(() => host.address).not.toBe(used)
    await other.goto('about:blank')
    await other.goto(host.address)
    await soon(() => session(other)).toBeTruthy()
    await first.close()
    await second.close()
  })

  test('cannot be used by a page of another site', async () => {
    await using host = await Host.start()
    const page = await browser.newPage()
    await page.route('http://evil.example/', (route) => route.fulfill({ contentType: 'text/html', body: 'evil' }))
    await page.goto('http://evil.example/')
    const outcome = await page.evaluate(async (origin) => {
      const socket = new WebSocket(`${origin.replace('http', 'ws')}/socket`)
      const opened = await new Promise((resolve) => {
        socket.onopen = () => resolve('opened')
        socket.onerror = () => resolve('refused')
      })
      const fetched = await fetch(origin, { mode: 'no-cors' }).then(
        () => 'fetched',
        () => 'refused',
      )
      return { opened, fetched }
    }, host.origin)
    expect(outcome).toEqual({ opened: 'refused', fetched: 'refused' })
    await page.close()
  })
})

describe('a page that is open', () => {
  test.skipIf(process.platform !== 'linux')(
    'outlives its engine: killed outright, it is back within seconds',
    async () => {
      await using host = await Host.start()
      const page = await browser.newPage()
      await page.goto(host.address)
      await soon(() => heading(page).count()).toBe(1)
      const { pid } = host.running.child
      const children = () => readFileSync(`/proc/${pid}/task/${pid}/children`, 'utf8').trim().split(/\s+/).map(Number)
      const [before] = children()
      process.kill(before, 'SIGKILL')
      await soon(children).not.toContain(before)
      const reply = () =>
        page.evaluate(async () => {
          const kept = Object.entries(localStorage).find(([key]) => /session/.test(key))![1]
          const response = await fetch('frame/1/pixels', { headers: { Authorization: `Bearer ${kept}` } })
          return response.status
        })
      // 503 while there is no engine, 404 from the new one, whose log has no such frame.
      await soon(reply).toBe(404)
      await soon(() => heading(page).count()).toBe(1)
      expect(host.running.stderr).toContain('ended unexpectedly')
      await page.close()
    },
  )

  test('does not keep the host from stopping cleanly, and comes back by itself to the next one', async () => {
    const data = mkdtempSync(join(tmpdir(), 'nightshelf-data-'))
    const first = await Host.start({ data })
    const { port } = new URL(first.origin)
    const page = await browser.newPage()
    await page.goto(first.address)
    await soon(() => session(page)).toBeTruthy()
    expect(await first.stop()).toBe(0)
    expect(first.running.stderr).toBe('')
    const second = new Running(process.execPath, [
      join(root, 'out/main/cli.js'),
      '--data',
      data,
      'serve',
      '--port',
      port,
    ])
    await second.address()
    await soon(() => page.evaluate(() => document.body.innerText)).toContain('Which folder')
    expect(second.stdout).not.toContain('another browser')
    await page.close()
    expect(await second.stop()).toBe(0)
    rmSync(data, { recursive: true })
  })
})

describe('starting', () => {
  test('without a display says so in one line and prints the address in under 5 s', async () => {
    const data = mkdtempSync(join(tmpdir(), 'nightshelf-data-'))
    const env = { ...process.env, DISPLAY: undefined, WAYLAND_DISPLAY: undefined }
    const startedAt = performance.now()
    const start = new Running(process.execPath, ['main/host/start.mjs', '--port', '0', '--data', data], {
      cwd: root,
      env,
    })
    await start.address()
    const tookMs = performance.now() - startedAt
    console.log(`npm start without a display: the address after ${Math.round(tookMs)} ms`)
    if (process.platform === 'linux')
      expect(start.stdout.split('\n')[0]).toBe(
        'There is no display here: the same window is served to a browser on this machine.',
      )
    expect(tookMs).toBeLessThan(5_000)
    expect(await start.stop()).toBe(0)
    rmSync(data, { recursive: true })
  })

  test('serve watches a folder from the start, and --help says how', async () => {
    const { code, stdout } = await runCommandLine('/nowhere', 'serve', '--help')
    expect(code).toBe(0)
    expect(stdout).toContain('--watch DIR')
    const folder = mkdtempSync(join(tmpdir(), 'nightshelf-frames-'))
    await using host = await Host.start({ args: ['--watch', folder] })
    const page = await browser.newPage()
    await page.goto(host.address)
    await soon(() => page.locator('body').innerText()).not.toContain('Which folder')
    await page.close()
    rmSync(folder, { recursive: true })
  })
})
