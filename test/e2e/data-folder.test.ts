import { mkdtempSync, readdirSync, rmSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterAll, beforeAll, describe, expect, test } from 'vitest'
import type { Browser, Page } from 'playwright-core'
import { writeFrame, writeRun } from '../engine/night-files.ts'
import { collectTroubles, launchChromium } from './support/chromium.ts'
import { axeFindings, greenOrBluePixels, sidewaysOverflow } from './support/drawn.ts'
import { Host } from './support/host.ts'
import { soon } from './support/soon.ts'

/** What keeps the log safe, from the window: copies, restoring one, and moving everything to another folder. */

let browser: Browser
let host: Host
let page: Page
let troubles: string[]
const base = mkdtempSync(join(tmpdir(), 'nightshelf-keep-'))
const capture = mkdtempSync(join(tmpdir(), 'nightshelf-capture-'))
const data = join(base, 'data')
beforeAll(async () => {
  browser = await launchChromium()
  writeRun(capture, 3)
  host = await Host.start({ data, args: ['--watch', capture] })
  page = await browser.newPage({ viewport: { width: 1280, height: 800 }, timezoneId: 'Europe/London' })
  troubles = collectTroubles(page)
  await page.goto(host.address)
  await page.locator('.band').first().waitFor()
  await page.evaluate(() => (location.hash = '#/settings'))
})
afterAll(async () => {
  await browser?.close()
  await host?.stop()
  rmSync(base, { recursive: true, force: true })
  rmSync(capture, { recursive: true, force: true })
})

const copies = () => page.locator('[data-backup]')
const asideCopies = () => page.locator('[data-backup]', { hasText: 'put aside' })

describe('copies of the log', () => {
  test('one is made now, listed, restored, and the log before it is kept', async () => {
    const before = await copies().count()
    await page.getByRole('button', { name: 'Back up now' }).click()
    await soon(() => copies().count()).toBeGreaterThan(before)
    // What is told afterwards is not in the copy.
    await page.getByLabel('Another name of a filter').fill('Lum')
    await page.getByLabel('The filter that it is').fill('L')
    await page.getByRole('button', { name: 'Keep the name' }).click()
    await page.getByText('Lum is L', { exact: true }).waitFor()

    await copies()
      .first()
      .getByRole('button', { name: /^Restore/ })
      .click()
    await page.getByRole('button', { name: 'Put it in place' }).click()
    await soon(() => asideCopies().count()).toBe(1)
    await page.getByText('Lum is L', { exact: true }).waitFor({ state: 'detached' })
    expect(await axeFindings(page)).toEqual([])

    await asideCopies()
      .first()
      .getByRole('button', { name: /^Restore/ })
      .focus()
    await page.keyboard.press('Enter')
    await page.getByRole('button', { name: 'Put it in place' }).focus()
    await page.keyboard.press('Enter')
    await page.getByText('Lum is L', { exact: true }).waitFor()
  })
})

describe('the data folder', () => {
  test('is not moved where it would not be safe: one sentence, and nothing happens', async () => {
    await page.getByLabel('Another folder for log and masters').fill(join(capture, 'inside'))
    await page.getByRole('button', { name: 'Move there' }).click()
    await page.getByText(/lies in the watched folder/).waitFor()
    await page.getByRole('button', { name: 'Close' }).first().click()
    expect(readdirSync(capture)).toHaveLength(3)
  })

  test('moves with the window open, goes on there, and the old files are cleared', async () => {
    const to = join(base, 'elsewhere')
    await page.getByLabel('Another folder for log and masters').fill(to)
    await page.getByRole('button', { name: 'Move there' }).click()
    await soon(() => page.locator('[data-folder] .name').textContent()).toBe(to)
    await page.getByText('Lum is L', { exact: true }).waitFor()
    await page.getByRole('button', { name: 'Clear: What was left in the folder before' }).click()
    await page.getByRole('button', { name: 'Delete these files' }).click()
    await soon(() => readdirSync(data).sort()).toEqual(['moved.json', 'sessions.json'])
    writeFrame(capture, 'later.fits', { target: 'Later' })
    await page.evaluate(() => (location.hash = '#/nights'))
    await page.getByText('4 frames in all').waitFor()
    await page.evaluate(() => (location.hash = '#/settings'))
  })

  test('every section is reached at 390 px and by axe in the red lamp, without green, blue or sideways scrolling', async () => {
    await page.setViewportSize({ width: 390, height: 844 })
    await page.getByRole('button', { name: 'Back up now' }).waitFor()
    await page.evaluate(() => (document.activeElement as HTMLElement | null)?.blur())
    await page.keyboard.press('l')
    expect(await sidewaysOverflow(page)).toBe(0)
    expect(await axeFindings(page)).toEqual([])
    expect(await greenOrBluePixels(page)).toBe(0)
    await page.keyboard.press('l')
    await page.setViewportSize({ width: 1280, height: 800 })
  })

  test('words that set a frame aside are changed, and are as delivered again', async () => {
    const field = page.getByLabel('Words that set a frame aside')
    const before = await field.inputValue()
    expect(before).toContain('focus')
    await field.fill('focus wobble')
    await page.getByRole('button', { name: 'Keep the words' }).click()
    await page.getByRole('button', { name: 'Words as delivered' }).click()
    await soon(() => field.inputValue()).toBe(before)
    expect(await page.getByText(/Shown by a browser/).count()).toBe(1)
    expect(troubles).toEqual([])
  })
})
