import { afterAll, beforeAll, expect, test } from 'vitest'
import type { Browser } from 'playwright-core'
import { answers, firstRun } from './support/answers.ts'
import { launchChromium } from './support/chromium.ts'
import { Drawing, servePage, type DrawOptions } from './support/drawn.ts'
import { taking, unlike } from './support/likeness.ts'

/** Each screen against the likeness of it that was looked at and kept (test/e2e/likenesses). */

let browser: Browser
let server: Awaited<ReturnType<typeof servePage>>
let drawing: Drawing
beforeAll(async () => {
  browser = await launchChromium()
  server = await servePage()
  drawing = await Drawing.open(browser, server.address)
})
afterAll(async () => {
  await browser.close()
  await server[Symbol.asyncDispose]()
})

const screens: [name: string, Partial<DrawOptions>][] = [
  ['first-run', { answers: firstRun }],
  ['tonight', {}],
  ['tonight-red-lamp', { look: 'red-lamp' }],
  ['tonight-strip', { width: 480, height: 900 }],
  ['tonight-phone-red-lamp', { look: 'red-lamp', width: 390, height: 844 }],
  ['glance', { at: '#/glance' }],
  ['shelf', { at: '#/shelf' }],
  ['master', { at: '#/shelf/3' }],
  ['flats', { at: '#/flats' }],
  ['nights', { at: '#/nights' }],
  ['night', { at: '#/nights/2026-11-20' }],
  ['settings', { at: '#/settings' }],
  ['sensors', { at: '#/settings/sensors' }],
  ['frame', { at: '#/frame/214' }],
]

const draw = async (options: Partial<DrawOptions>) => {
  const { page } = await drawing.draw({ answers, now: '2026-11-21T01:30:00Z', ...options })
  await page.waitForTimeout(300) // the answers that only show once the page stands
  return page
}

test.each(screens)('%s looks as it was kept', async (name, options) => {
  const page = await draw(options)
  expect(await unlike(page, name)).toBeNull()
})

test.skipIf(taking)('a screen with larger words is not like the one that was kept', async () => {
  const page = await draw({})
  await page.evaluate(() => (document.documentElement.style.fontSize = '105%'))
  expect(await unlike(page, 'tonight')).toMatch(/^tonight differs in \d+ of 16000 blocks/)
})
