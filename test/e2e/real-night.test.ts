import { readFileSync } from 'node:fs'
import { afterAll, beforeAll, describe, expect, test } from 'vitest'
import type { Browser, Page } from 'playwright-core'
import { launchChromium } from './support/chromium.ts'
import { DemoNight } from './support/demo-night.ts'
import { axeFindings, greenOrBluePixels, sidewaysOverflow } from './support/drawn.ts'
import { tabTo, use } from './support/keyboard.ts'
import { soon } from './support/soon.ts'

/** Every place with the frames, masters and notices of a whole night from the real engine, in both looks; then without one. */

let browser: Browser
let night: DemoNight
let page: Page
beforeAll(async () => {
  browser = await launchChromium()
  night = await DemoNight.open(browser, '#/tonight', { library: true })
  page = night.page
  await page.locator('.band canvas').waitFor({ timeout: 60_000 })
}, 180_000)
afterAll(async () => {
  await night?.[Symbol.asyncDispose]()
  await browser?.close()
})

const look = () => page.getAttribute('html', 'data-look')
async function wear(wanted: 'warm' | 'red-lamp') {
  if ((await look()) !== wanted) await page.keyboard.press('l')
  expect(await look()).toBe(wanted)
}

/** Nothing is still being read, and every picture has come. */
async function settled() {
  await page.locator('main h1').waitFor({ state: 'attached' })
  await soon(() => page.getByText(/^Reading/).count()).toBe(0)
  await page.waitForTimeout(300)
}

const addressOf: Record<string, () => Promise<string>> = {
  Tonight: async () => '#/tonight',
  Glance: async () => '#/glance',
  'the shelf, with what can be built': async () => '#/shelf',
  'a master': async () => '#/shelf/1',
  Flats: async () => '#/flats',
  Nights: async () => '#/nights',
  'a night': async () => '#/nights/2026-11-20',
  'a light': lightAddress,
  Settings: async () => '#/settings',
}

async function lightAddress(): Promise<string> {
  await night.go('#/nights/2026-11-20')
  return (await page.locator('[data-run]').first().getAttribute('href'))!
}

test.each(Object.keys(addressOf))(
  '%s: axe finds nothing in either look, the red lamp has no green and no blue, 320 px scroll in one direction',
  async (name) => {
    await night.go(await addressOf[name]!())
    await settled()
    await wear('warm')
    expect(await axeFindings(page)).toEqual([])
    await wear('red-lamp')
    expect(await axeFindings(page)).toEqual([])
    expect(await greenOrBluePixels(page)).toBe(0)
    await page.setViewportSize({ width: 320, height: 640 })
    expect(await sidewaysOverflow(page)).toBe(0)
    await page.setViewportSize({ width: 1280, height: 800 })
  },
)

describe('by keyboard alone', () => {
  test('a notice is acknowledged, settings are copied, the look is turned', async () => {
    await page.keyboard.press('1')
    await settled()
    const open = page.locator('[data-rule]')
    const before = await open.count()
    await use(page, /^Copy the settings for/)
    await page.getByText('Copied', { exact: true }).waitFor()
    await use(page, /^Acknowledge/)
    await soon(() => open.count()).toBe(before - 1)
    const worn = await look()
    await page.keyboard.press('l')
    expect(await look()).not.toBe(worn)
  })

  test('a master is retired and put back, a train change logged and taken back', async () => {
    await night.go('#/shelf/1')
    await use(page, /^Retire$/)
    await page.getByText('Retired: it matches nothing until it is restored.').waitFor()
    await page.keyboard.press('5')
    await use(page, /^Take back: /)
    await page.getByText('It is taken back.').waitFor({ state: 'attached' })
    await page.keyboard.press('3')
    await use(page, /^I changed something$/)
    await tabTo(page, /^What was changed/)
    await page.keyboard.type('reducer cleaned')
    await use(page, /^Log the change$/)
    await use(page, /^Take back: .*reducer cleaned/)
    await page.getByText('reducer cleaned').first().waitFor()
  })

  test('masters are built', async () => {
    await page.keyboard.press('2')
    await use(page, /^Build all \d+ masters$/)
    await page.locator('[data-built]').first().waitFor({ timeout: 50_000 })
  })
})

/** The engine's process: the host's only child, while there is one. */
const enginePid = (host: number) => Number(readFileSync(`/proc/${host}/task/${host}/children`, 'utf8').split(' ')[0])

describe('when something is away', () => {
  test.skipIf(process.platform !== 'linux')(
    'the engine: the page says so and of when it is, and all is well by itself',
    async () => {
      await night.go('#/tonight')
      await settled()
      await wear('red-lamp')
      // One that is back within a moment is not worth a line, so it dies again as often as it comes.
      const said = page.getByText('The engine stopped and is being started again.')
      await soon(async () => {
        const pid = enginePid(night.host.running.child.pid!)
        if (pid) process.kill(pid, 'SIGKILL')
        return said.count()
      }).toBe(1)
      expect(await page.locator('.line').first().innerText()).toMatch(
        /What you see is from \d\d:\d\d\. Nothing that was logged is lost/,
      )
      expect(await page.locator('.band').count()).toBe(1)
      expect(await greenOrBluePixels(page)).toBe(0)
      await page.getByText('The engine stopped').waitFor({ state: 'detached', timeout: 30_000 })
    },
  )

  test('the host: the page says so, keeps what it showed, and in the glance mode too', async () => {
    await night.host.stop()
    await page.getByText('No connection to Nightshelf.').waitFor()
    expect(await page.locator('.line').first().innerText()).toMatch(
      /What you see is from \d\d:\d\d; the log itself goes on/,
    )
    expect(await axeFindings(page)).toEqual([])
    expect(await greenOrBluePixels(page)).toBe(0)
    await page.keyboard.press('g')
    await page.getByText('No contact', { exact: true }).waitFor()
    await page.keyboard.press('Escape')
  })
})

test('complained of nothing but the host that was stopped', () => {
  expect(night.troubles.filter((trouble) => !/ERR_CONNECTION|WebSocket/.test(trouble))).toEqual([])
})
