import { afterAll, beforeAll, expect, test } from 'vitest'
import type { Browser } from 'playwright-core'
import { mainThread, scrollByFrames } from '../bench/frames.ts'
import { masters } from '../renderer/support/night.ts'
import { shelfPageOf } from '../renderer/support/shelf.ts'
import { answers } from './support/answers.ts'
import { launchChromium } from './support/chromium.ts'
import { drawPage, servePage } from './support/drawn.ts'

let browser: Browser
let server: Awaited<ReturnType<typeof servePage>>
beforeAll(async () => {
  browser = await launchChromium()
  server = await servePage()
})
afterAll(async () => {
  await browser.close()
  await server[Symbol.asyncDispose]()
})

test('a hundred thousand masters scroll with a few dozen rows drawn, and the page’s own work stays below a frame of 50 ms', async () => {
  const many = Array.from({ length: 100_000 }, (_, index) => ({ ...masters[index % masters.length]!, id: index + 1 }))
  const { page } = await drawPage(browser, server.address, {
    answers: { ...answers, shelf: shelfPageOf(many) },
    at: '#/shelf',
  })
  const table = '[aria-label="Masters, as a table"]'
  await page.locator(`${table} [data-master]`).first().waitFor()
  expect(await page.locator(`${table} table`).getAttribute('aria-rowcount')).toBe('100001')
  const thread = await mainThread(page)
  await scrollByFrames(page, table, 2_000, 40)
  // Its own work, not the time between frames: other programs on a busy machine would lengthen that.
  expect((await thread.since()) / 40).toBeLessThan(50)
  expect(await page.locator(`${table} [data-master]`).count()).toBeLessThan(80)
  await page
    .locator(`${table} a[tabindex="0"]`)
    .or(page.locator(`${table} a`))
    .first()
    .focus()
  await page.keyboard.press('End')
  await page.locator(`${table} [aria-rowindex="100001"]`).waitFor()
  await page.getByLabel('Find, in plain words').fill('flat dark')
  await page.getByText('20\u202f000 of 100\u202f000 shown').waitFor()
  await page.close()
})
