import { afterAll, beforeAll, describe, expect, test } from 'vitest'
import { existsSync, readdirSync } from 'node:fs'
import { join } from 'node:path'
import type { Browser, Page } from 'playwright-core'
import { launchChromium } from './support/chromium.ts'
import { DemoNight } from './support/demo-night.ts'
import { axeFindings, greenOrBluePixels } from './support/drawn.ts'
import { soon } from './support/soon.ts'

/** Building masters from the window, of a whole simulated night, against the real engine. */

let browser: Browser
let night: DemoNight
let page: Page
beforeAll(async () => {
  browser = await launchChromium()
  night = await DemoNight.open(browser, '#/shelf')
  page = night.page
}, 180_000)
afterAll(async () => {
  await night?.[Symbol.asyncDispose]()
  await browser?.close()
})

const ready = () => page.locator('[data-build="ready"]')

describe('building masters', () => {
  test('what is ready stands there with what goes in, and what waits says what it waits for', async () => {
    await soon(() => ready().count()).toBe(4)
    expect(await page.locator('[data-build="waiting"]').first().innerText()).toContain('Its dark flat is missing')
    expect(await ready().first().innerText()).toMatch(/20.dark flats go in/)
  })

  test('a group is taken off and put back with the space bar alone', async () => {
    const tick = page.getByRole('checkbox', { name: 'Build it, Dark, 120\u00a0s' })
    await tick.focus()
    await page.keyboard.press('Space')
    await page.getByRole('button', { name: /^Build 3.masters$/ }).waitFor()
    await page.keyboard.press('Space')
    await page.getByRole('button', { name: 'Build all 4 masters' }).waitFor()
  })

  test('built by keyboard, the verdict of a light that waits changes at once on another page that is open', async () => {
    const light = await night.openLight(/^Ferry Cloud.*120/)
    expect(await light.locator('[data-need="dark"]').getAttribute('data-verdict')).toBe('due')
    await page.getByRole('button', { name: 'Build all 4 masters' }).focus()
    await page.keyboard.press('Enter')
    await page.locator('[data-building]').waitFor()
    await page.locator('[data-built]').first().waitFor({ timeout: 120_000 })
    expect(await page.locator('[data-built]').count()).toBe(4)
    await soon(() => light.locator('[data-need="dark"]').getAttribute('data-verdict')).toBe('matched')
    await soon(() => light.locator('[data-need="flat"]').getAttribute('data-verdict')).toBe('matched')
    await light.getByRole('button', { name: 'Prove the set' }).click()
    await light.getByRole('row', { name: /^hot pixels/ }).waitFor({ timeout: 60_000 })
    await soon(() => light.locator('#proof-title').count()).toBe(1)
    await light.getByRole('button', { name: 'Choose the masters yourself' }).click()
    await light.getByRole('radio', { name: /^3\ss, gain/ }).check()
    expect(await axeFindings(light)).toEqual([])
    await light.getByRole('button', { name: 'Prove what you chose' }).click()
    await light.getByText('Not the set that matches: you chose it.').waitFor()
    expect(await light.locator('.said').innerText()).toMatch(
      /The dark is not this frame’s: exposure 3\ss, the frame has 120\ss\..*hot pixels are left: this dark does not take them away/s,
    )
    await light.close()
  }, 240_000)

  test('a finished master has a page with picture, figures, glow map, histogram and sources', async () => {
    await page.locator('[data-built="dark"] a').click()
    await page.getByRole('heading', { name: 'Glow map' }).waitFor({ timeout: 30_000 })
    await page.getByRole('heading', { name: 'Histogram' }).waitFor()
    expect((await page.locator('main').innerText()).replaceAll('\u00a0', ' ')).toMatch(
      /Noise [\d.]+ ADU, [\d.]+ ADU expected/,
    )
    await page.getByRole('button', { name: 'Show the frames' }).click()
    await soon(() => page.locator('.hash').count()).toBe(20)
    await page.getByRole('button', { name: 'Build again and compare' }).click()
    await soon(async () => (await page.locator('main').innerText()).includes('same')).toBe(true)
    expect(await axeFindings(page)).toEqual([])
    await page.keyboard.press('l')
    expect(await greenOrBluePixels(page)).toBe(0)
    await page.keyboard.press('l')
  }, 120_000)

  test('a fresh dark is held against it: verdict, figures and a picture, and one of its own frames proves nothing', async () => {
    await page.getByRole('button', { name: 'Choose a fresh dark' }).click()
    await page.getByRole('button', { name: 'Check it' }).click()
    const checks = page.locator('section[aria-labelledby="checks-title"]')
    await checks.locator('[data-check="holds"] canvas').waitFor({ timeout: 30_000 })
    const said = (await checks.innerText()).replaceAll('\u00a0', ' ')
    expect(said).toMatch(/Holds: level within [\d.]+ ADU of the master/)
    expect(said).toContain('It proves nothing')
    expect(said).toMatch(/hot pixels as before\s+\d+ of \d+/)
    await checks.getByRole('button', { name: 'Show what it found' }).click()
    expect(await axeFindings(page)).toEqual([])
    await page.keyboard.press('l')
    expect(await greenOrBluePixels(page)).toBe(0)
    await page.keyboard.press('l')
  }, 60_000)

  test('nothing but the four masters is in their folder', () => {
    const files = readdirSync(join(night.host.data, 'masters'))
    expect(files.filter((name) => name.endsWith('.fits')).length).toBe(4)
    expect(files.filter((name) => name.endsWith('.part'))).toEqual([])
  })

  test('through all of it the page complained of nothing', () => {
    expect(night.troubles).toEqual([])
  })
})

test('stopped in the middle, a build says so and leaves nothing', async () => {
  await using fresh = await DemoNight.open(browser, '#/shelf')
  const shelf = fresh.page
  await shelf.getByRole('button', { name: 'Build all 4 masters' }).waitFor({ timeout: 60_000 })
  // Both clicks in the page itself: such small frames are built before a hand gets there.
  await shelf.evaluate(async () => {
    const named = (start: string) =>
      [...document.querySelectorAll('button')].find((button) => button.textContent!.trim().startsWith(start))
    named('Build all')!.click()
    while (!named('Stop')) await new Promise(requestAnimationFrame)
    named('Stop')!.click()
  })
  await shelf.getByText('The build was stopped').waitFor({ timeout: 30_000 })
  const built = await shelf.locator('tr[data-state]').count()
  const folder = join(fresh.host.data, 'masters')
  expect(existsSync(folder) ? readdirSync(folder).length : 0).toBe(built)
  await shelf.getByRole('button', { name: /^Build/ }).waitFor()
  expect(fresh.troubles).toEqual([])
}, 180_000)
