import { afterAll, beforeAll, describe, expect, test } from 'vitest'
import type { Browser, Page } from 'playwright-core'
import { launchChromium } from './support/chromium.ts'
import { DemoNight } from './support/demo-night.ts'
import { axeFindings } from './support/drawn.ts'
import { soon } from './support/soon.ts'

/** Flats and what touches them, from the window, with the masters of earlier nights on the shelf. */

let browser: Browser
let night: DemoNight
let page: Page
let light: Page
beforeAll(async () => {
  browser = await launchChromium()
  night = await DemoNight.open(browser, '#/flats', { library: true })
  page = night.page
  light = await night.openLight(/^Lantern 3 · dual-band · 300/)
}, 180_000)
afterAll(async () => {
  await night?.[Symbol.asyncDispose]()
  await browser?.close()
})

const flatVerdict = () => light.locator('[data-need="flat"]').getAttribute('data-verdict')
const row = () => page.locator('[data-filter="dual-band"]').first()

describe('flats', () => {
  test('stand one row a train and filter, the raw ones with their level and balance', async () => {
    await row().waitFor()
    // The pixels of the whole night are looked at first, beside all else that the machine does.
    await page.locator('[data-level="right"]').first().waitFor({ timeout: 50_000 })
    expect((await page.locator('main').innerText()).replaceAll('\u00a0', ' ')).toMatch(
      /Level [\d\u202f ]+ ADU; aim for/,
    )
    expect(await page.locator('main').innerText()).toContain('Balance against green')
  })

  test('a change logged by keyboard turns the flats of the lights after it near, and taken back they match again', async () => {
    await soon(flatVerdict).toBe('matched')
    await page.getByRole('button', { name: 'I changed something' }).focus()
    await page.keyboard.press('Enter')
    await page.getByLabel('What was changed, in your words').focus()
    await page.keyboard.type('reducer cleaned')
    await page.getByLabel(/^When, if it was not just now/).focus()
    await page.keyboard.type('2026-11-20 12:30')
    await page.keyboard.press('Enter')
    await page.getByText('It is logged').waitFor()
    await soon(flatVerdict).not.toBe('matched')
    expect(['near', 'due']).toContain(await flatVerdict())
    await page.getByRole('button', { name: 'Take back: reducer cleaned' }).focus()
    await page.keyboard.press('Enter')
    await page.getByText('reducer cleaned (taken back)').waitFor()
    await soon(flatVerdict).toBe('matched')
  })

  test('before it is taken apart, a last look says what would be lost; not yet leaves everything as it was', async () => {
    await page.getByRole('button', { name: 'I’m taking it apart' }).click()
    await page
      .locator('.said')
      .filter({ hasText: /Wait: this can’t be made up|Nothing would be lost/ })
      .waitFor()
    expect(await axeFindings(page)).toEqual([])
    await page.getByRole('button', { name: 'Not yet' }).click()
    await page.getByRole('button', { name: 'Not yet' }).waitFor({ state: 'detached' })
    expect(await page.locator('[data-change]').count()).toBe(1)
  })

  test('a fresh flat without its dark flat is not held against the one on the shelf: it is said what to shoot first', async () => {
    await page.getByRole('button', { name: 'Choose a fresh flat' }).click()
    await page
      .getByRole('radio', { name: /dual-band/ })
      .first()
      .check()
    await page.getByRole('button', { name: 'Check it' }).click()
    const refused = page
      .getByRole('alert')
      .filter({ hasText: /has no dark flat in the library.*: shoot 20 dark flats with 4\.5 s/ })
    await refused.waitFor({ timeout: 60_000 })
    expect(await axeFindings(page)).toEqual([])
  })

  test('through all of it the page complained of nothing', () => {
    expect(night.troubles).toEqual([])
  })
})
