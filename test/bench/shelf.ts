/**
 * The shelf with 100 000 masters in a real browser against the built host: how soon it stands there, and how long its frames take while it is
 * scrolled, searched and sorted. Bars: first paint 1.5 s, no frame over 50 ms. Needs the built program (`npm run build`) and Chromium.
 */
import { existsSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { newestVersion } from '../../db/migrate.ts'
import { launchChromium } from '../e2e/support/chromium.ts'
import { Host } from '../e2e/support/host.ts'
import { framesSince, ownWork, scrollByFrames, watchFrames } from './frames.ts'
import { makeShelf } from './shelf-data.ts'

const MASTERS = 100_000
const dataDir = join(tmpdir(), `nightshelf-bench-shelf-${MASTERS}-${newestVersion()}`)
if (!existsSync(dataDir)) makeShelf(dataDir, MASTERS)

const ms = (value: number) => `${value.toFixed(0)} ms`

/** Frame times while `work` goes on, and the longest task of the page's own thread: on a busy machine only the latter is the page's. */
async function time(what: string, work: () => Promise<unknown>): Promise<void> {
  await watchFrames(page)
  const { longestTaskMs } = await ownWork(browser, page, work)
  const { frames, medianMs, p99Ms, longestMs } = await framesSince(page)
  console.log(
    `  ${what.padEnd(34)} ${String(frames).padStart(4)} frames: median ${ms(medianMs)}, 99th percentile ${ms(p99Ms)}, longest ${ms(longestMs)}; longest own task ${ms(longestTaskMs)}`,
  )
}

await using host = await Host.start({ data: dataDir })
await using browser = await launchChromium()
const page = await browser.newPage({ viewport: { width: 1280, height: 800 } })
await page.goto(host.address)
await page.locator('h1').first().waitFor()
const table = '[aria-label="Masters, as a table"]'
const found = () => page.locator('#masters-title').locator('..').innerText()

const allShown = () =>
  page.waitForFunction(() =>
    document.querySelector('#masters-title')?.parentElement?.innerText.includes('100\u202f000 shown'),
  )

console.log(`shelf: ${MASTERS} masters`)
for (const round of [1, 2, 3]) {
  const fresh = await browser.newPage({ viewport: { width: 1280, height: 800 } })
  await fresh.goto(`${host.origin}/#/tonight`).catch(() => {})
  await fresh.close()
  await page.goto(`${host.origin}/?round=${round}#/shelf`)
  const paintMs = await page.evaluate(
    (table) =>
      new Promise<number>((resolve) => {
        const look = () =>
          document.querySelector(`${table} tbody tr[data-master]`)
            ? requestAnimationFrame(() => resolve(performance.now()))
            : requestAnimationFrame(look)
        look()
      }),
    table,
  )
  await allShown()
  const wholeMs = await page.evaluate(() => performance.now())
  console.log(`  opened: first rows after ${ms(paintMs)}, all of them after ${ms(wholeMs)}`)
}
await page.waitForTimeout(3000)
await page.goto(`${host.origin}/?round=last#/settings`)
await page.locator('h1').first().waitFor()
await time('reading all of it', async () => {
  await page.evaluate(() => void (location.hash = '#/shelf'))
  await allShown()
})
await page.waitForTimeout(3000)
for (const pxPerFrame of [120, 2_000, 60_000]) {
  await page.locator(table).evaluate((element) => void (element.scrollTop = 0))
  await page.waitForTimeout(300)
  await time(`scrolling ${pxPerFrame} px a frame`, () => scrollByFrames(page, table, pxPerFrame, 120))
}
for (const words of ['flat dark', 'dark 300 s gain 120 -10', 'older than a year']) {
  await page.locator('#find').fill('')
  await page.waitForTimeout(500)
  await time(`typing "${words}"`, () => page.locator('#find').pressSequentially(words, { delay: 90 }))
  console.log(`    ${(await found()).replaceAll(/\s+/g, ' ')}`)
}
await page.locator('#find').fill('')
for (const column of ['exposure', 'made', 'camera']) {
  await page.waitForTimeout(500)
  await time(`sorting by ${column}`, async () => {
    await page.getByRole('button', { name: new RegExp(`^${column}`) }).click()
    await page.waitForTimeout(200)
  })
}
