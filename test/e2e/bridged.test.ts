import { afterAll, beforeAll, describe, expect, test } from 'vitest'
import type { Browser, Page } from 'playwright-core'
import { boot, engineReady, type Booted } from '../host/electron/support/boot.ts'
import { openBridged } from './support/bridged.ts'
import { collectTroubles, launchChromium } from './support/chromium.ts'
import { soon } from './support/soon.ts'

let browser: Browser
let host: Booted
let page: Page
let troubles: string[]
beforeAll(async () => {
  browser = await launchChromium()
  host = await boot({ runsRealEngine: true })
  await engineReady(host.electron)
  page = await openBridged(browser, host)
  troubles = collectTroubles(page)
})
afterAll(async () => {
  await browser?.close()
  await host?.[Symbol.asyncDispose]()
})

describe('the window through the built preload, in a real browser', () => {
  test('opens Tonight without a token, and asks through named verbs alone', async () => {
    await soon(() => page.locator('main h1').first().textContent()).toMatch(/Tonight/)
    expect(new URL(page.url()).hash).toBe('#/tonight')
    const bridge = await page.evaluate(() => ({
      verbs: Object.keys(window.nightshelf!.ask),
      rest: Object.keys(window.nightshelf!),
      require: typeof (globalThis as { require?: unknown }).require,
    }))
    expect(bridge.rest).toEqual(['ask', 'listen', 'pathOf'])
    expect(bridge.verbs).toContain('tonight')
    expect(bridge.verbs).not.toContain('file')
    expect(bridge.require).toBe('undefined')
  })

  test('a request goes to the engine and comes back; a refusal comes back as a value with its sentence', async () => {
    const answered = await page.evaluate(() => window.nightshelf!.ask.nights({}))
    expect(answered).toHaveProperty('answer.nights')
    const refused = await page.evaluate(() => window.nightshelf!.ask.watchFolder({ path: '/nowhere/at/all' }))
    expect(refused).toEqual({ refused: expect.stringMatching(/^\S.*\.$/) })
  })

  test('the path of a dropped file is told, and a file that the page made has none', async () => {
    const paths = await page.evaluate(() => [
      window.nightshelf!.pathOf(new File([], 'dropped.fits')),
      window.nightshelf!.pathOf(new File(['made'], 'made.fits')),
    ])
    expect(paths).toEqual(['/night/dropped.fits', ''])
  })

  test('an event reaches the page without the sender that Electron adds', async () => {
    const heard = page.evaluate(
      () =>
        new Promise<unknown[]>((resolve) => {
          const stop = window.nightshelf!.listen((...args) => {
            stop()
            resolve(args)
          })
        }),
    )
    await page.waitForTimeout(100)
    host.electron.page.emit('dom-ready')
    expect(await heard).toEqual([{ event: 'engine', state: 'ready' }])
  })

  test('every place opens, and nothing is complained about', async () => {
    for (const place of ['tonight', 'shelf', 'flats', 'nights', 'settings']) {
      await page.evaluate((hash) => (location.hash = hash), `#/${place}`)
      await soon(() => page.locator('main h1').count()).toBe(1)
    }
    expect(troubles).toEqual([])
  })
})
