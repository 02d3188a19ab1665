import { afterAll, beforeAll, expect, test } from 'vitest'
import { decode } from 'fast-png'
import type { Browser, Page } from 'playwright-core'
import { frame, notices, tonight, verdict } from '../renderer/support/night.ts'
import { answers } from './support/answers.ts'
import { launchChromium } from './support/chromium.ts'
import { axeFindings, drawPage, greenOrBluePixels, servePage, sidewaysOverflow, tell } from './support/drawn.ts'

let browser: Browser
let server: Awaited<ReturnType<typeof servePage>>
let page: Page
let troubles: string[]
beforeAll(async () => {
  browser = await launchChromium()
  server = await servePage()
  ;({ page, troubles } = await drawPage(browser, server.address, { width: 1920, height: 1080, answers }))
})
afterAll(async () => {
  await browser.close()
  await server[Symbol.asyncDispose]()
})

const states = () => page.locator('[data-state]').evaluateAll((all) => all.map((e) => e.getAttribute('data-state')))
const small = () => page.locator('.glance .row > .soft').innerText()

/** By how many px the blocks reach below the room that is theirs. */
function cutBelow(): number {
  const box = document.querySelector('.blocks')!
  const last = box.lastElementChild!.getBoundingClientRect().bottom
  return Math.max(0, Math.round(last - box.getBoundingClientRect().bottom))
}

/** Rows of the screen on which the first letter of the answer has ink: the height of a capital, px. */
async function heightOfFirstLetter(): Promise<number> {
  const words = (await page.locator('.answer span').first().boundingBox())!
  const clip = { x: words.x, y: words.y - 20, width: 60, height: words.height + 20 }
  const { data, channels, width, height } = decode(await page.screenshot({ clip }))
  let rows = 0
  for (let y = 0; y < height; y++)
    for (let x = 0; x < width; x++)
      if (data[(y * width + x) * channels]! > 128) {
        rows++
        break
      }
  return rows
}

test('G shows the answer alone: its state by word and shape, nothing beside it', async () => {
  await page.keyboard.press('g')
  await page.getByText('Flat due', { exact: true }).waitFor()
  expect(page.url()).toContain('#/glance')
  expect(await states()).toEqual(['due'])
  expect(await page.locator('nav').count()).toBe(0)
  expect(await page.locator('main h1').count()).toBe(1)
  expect(await axeFindings(page)).toEqual([])
})

test('its letters are 5 cm high on a 24-inch screen of 1920 × 1080, by their pixels', async () => {
  // 36.1 px a centimetre (letters.ts): a capital of 5 cm has 181 rows.
  expect(Math.abs((await heightOfFirstLetter()) - 181)).toBeLessThanOrEqual(2)
  expect((await small()).replaceAll('\u00a0', ' ')).toContain('letters 5.0 cm high on a screen of 24 inches')
  await page.getByRole('button', { name: 'The screen is larger' }).click()
  expect(Math.abs((await heightOfFirstLetter()) - 173)).toBeLessThanOrEqual(2)
  await page.getByRole('button', { name: 'The screen is smaller' }).click()
})

test('what lands is answered at once, and Escape leads back', async () => {
  await tell(page, {
    event: 'landed',
    frame: { ...frame, id: 215 },
    verdicts: { dark: verdict('near', ''), flat: verdict('lost', '') },
    number: 38,
  })
  await expect.poll(states).toEqual(['lost', 'near'])
  await tell(page, { event: 'engine', state: 'lost' })
  await page.getByText('Restarting', { exact: true }).waitFor()
  expect(await states()).toEqual(['stopped', 'lost', 'near'])
  await tell(page, { event: 'engine', state: 'ready' })
  await page.keyboard.press('Escape')
  await expect.poll(() => page.url()).toContain('#/tonight')
  await page.getByRole('link', { name: 'Glance' }).click()
  await expect.poll(states).toEqual(['lost', 'near'])
  await page.keyboard.press('g')
  await expect.poll(() => page.url()).toContain('#/tonight')
})

test('two rigs and something to do now share the height, in both looks, down to a phone, and nothing is cut', async () => {
  const roof = { ...tonight.latest[0]!, rig: 'Roof', frame: { ...frame, id: 300, rig: 'Roof' } }
  const urgent = { ...notices[0]!, severity: 'actNow', text: 'Shoot the flats now.' }
  const { page: other } = await drawPage(browser, server.address, {
    at: '#/tonight?glance',
    look: 'red-lamp',
    answers: {
      ...answers,
      tonight: { ...tonight, latest: [...tonight.latest, roof], notices: [urgent] },
    },
  })
  await other.getByText('Act now', { exact: true }).waitFor()
  expect(await other.locator('[data-state]').count()).toBe(3)
  for (const [width, height] of [
    [1920, 1080],
    [480, 900],
    [390, 844],
    [320, 640],
  ] as const) {
    await other.setViewportSize({ width, height })
    await expect.poll(() => other.evaluate(cutBelow)).toBe(0)
    expect(await sidewaysOverflow(other)).toBe(0)
    expect(await greenOrBluePixels(other)).toBe(0)
  }
  expect(await axeFindings(other)).toEqual([])
  await other.close()
})

test('in another place what must be done now has a line that leads to Tonight', async () => {
  const urgent = { ...notices[0]!, severity: 'actNow', text: 'Shoot the flats now.' }
  const { page: other } = await drawPage(browser, server.address, {
    at: '#/settings',
    answers: { ...answers, tonight: { ...tonight, notices: [urgent] } },
  })
  await other.getByText('Act now: Shoot the flats now.').waitFor()
  await other.getByRole('link', { name: 'See Tonight' }).click()
  await other.locator('[data-severity=actNow]').waitFor()
  await other.close()
})

test('through all of it the page complained of nothing', () => {
  expect(troubles).toEqual([])
})
