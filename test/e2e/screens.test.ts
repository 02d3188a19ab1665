import { afterAll, beforeAll, describe, expect, test } from 'vitest'
import type { Browser, Page } from 'playwright-core'
import { answers, firstRun } from './support/answers.ts'
import { launchChromium } from './support/chromium.ts'
import {
  axeFindings,
  Drawing,
  greenOrBluePixels,
  servePage,
  sidewaysOverflow,
  type DrawOptions,
} from './support/drawn.ts'

const places = [
  '#/tonight',
  '#/shelf',
  '#/shelf/3',
  '#/flats',
  '#/nights',
  '#/nights/2026-11-20',
  '#/settings',
  '#/frame/214',
  '#/view/frame/214',
  '#/x',
]
const sizes = [
  { name: 'a laptop', width: 1280, height: 800 },
  { name: 'a large screen', width: 1920, height: 1080 },
  { name: 'a strip beside the capture software', width: 480, height: 900 },
  { name: 'a phone', width: 390, height: 844 },
  { name: 'the narrowest window', width: 320, height: 640 },
]

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

const draw = (options: Partial<DrawOptions> = {}) => drawing.draw({ answers, ...options })

const pages: [string, Partial<DrawOptions>][] = [
  ...places.map((at): [string, Partial<DrawOptions>] => [at, { at }]),
  ['a first run', { answers: firstRun }],
]

async function smallTargets(page: Page, selector: string, least: number): Promise<string[]> {
  const found = await page.locator(selector).evaluateAll((elements) =>
    elements
      .filter((element) => element.checkVisibility())
      .map((element) => {
        const { width, height } = element.getBoundingClientRect()
        return { text: element.textContent!.trim(), width, height }
      }),
  )
  return found.filter(({ width, height }) => width < least || height < least).map(({ text }) => text)
}

/** Words that do not fit the room they were given. */
const cutWords = (page: Page) =>
  page.evaluate(() =>
    [...document.querySelectorAll('button, a, p, dd, td, h2')]
      .filter((element) => element.clientWidth > 2 && element.scrollWidth > element.clientWidth + 1)
      .map((element) => element.textContent),
  )

describe.each(pages)('%s', (_, options) => {
  let page: Page
  let troubles: string[]
  beforeAll(async () => ({ page, troubles } = await draw(options)))

  test('has one main landmark with one heading of the first level', async () => {
    expect(await page.locator('main').count()).toBe(1)
    expect(await page.locator('main h1').count()).toBe(1)
    expect(await page.locator('h1').count()).toBe(1)
  })

  test.each(sizes)('fits $name', async ({ width, height }) => {
    await page.setViewportSize({ width, height })
    expect(await sidewaysOverflow(page)).toBe(0)
    expect(await cutWords(page)).toEqual([])
  })

  test('has targets that are large enough, those used at night for gloves', async () => {
    expect(await smallTargets(page, 'button, input:not([type=radio])', 24)).toEqual([])
    expect(await smallTargets(page, 'button.night, nav a', 43.9)).toEqual([])
  })

  test('reads at twice the text size', async () => {
    await page.setViewportSize({ width: 1280, height: 800 })
    await page.evaluate(() => (document.documentElement.style.fontSize = '200%'))
    expect(await sidewaysOverflow(page)).toBe(0)
    expect(await cutWords(page)).toEqual([])
    await page.evaluate(() => (document.documentElement.style.fontSize = ''))
  })

  test('gives axe nothing to find in the warm look, and more than a little colour', async () => {
    expect(await axeFindings(page)).toEqual([])
    expect(await greenOrBluePixels(page)).toBeGreaterThan(1000)
  })

  test('gives axe nothing to find in the red lamp, and no pixel carries green or blue', async () => {
    await page.keyboard.press('l')
    expect(await page.getAttribute('html', 'data-look')).toBe('red-lamp')
    expect(await axeFindings(page)).toEqual([])
    expect(await greenOrBluePixels(page)).toBe(0)
  })

  test('complained of nothing', () => {
    expect(troubles).toEqual([])
  })
})

test('no pixel carries green or blue with the pointer over a time, text selected, keys open or a field in use', async () => {
  const { page } = await draw({ look: 'red-lamp', width: 900 })
  await page.locator('time').first().hover()
  expect(await greenOrBluePixels(page)).toBe(0)
  await page.keyboard.press('Control+a')
  expect(await greenOrBluePixels(page)).toBe(0)
  await page.keyboard.press('?')
  expect(await greenOrBluePixels(page)).toBe(0)
  await page.keyboard.press('Escape')
  await page.getByRole('dialog').waitFor({ state: 'hidden' })
  await page.keyboard.press('2')
  await page.getByLabel('Find, in plain words').fill('dark')
  expect(await greenOrBluePixels(page)).toBe(0)
})
