/**
 * How long the window is held up by an image of 62 Mpx (9576 × 6388, unsigned 16 bits), and when the picture is there: the built
 * page in Chromium against the headless host. Prints the longest task of the window's own thread, measured by the browser.
 * `node test/bench/view.ts [rounds]`
 */
import { mkdirSync, mkdtempSync, rmSync, openSync, closeSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { openFitsWriter } from '../../main/fits/index.ts'
import { launchChromium } from '../e2e/support/chromium.ts'
import { Host } from '../e2e/support/host.ts'

const WIDTH = 9576
const HEIGHT = 6388
const STRIP = 100

/** A sky with noise, a gradient and stars, so that nothing is easier than with a real frame. */
function writeLarge(path: string): void {
  const fd = openSync(path, 'w')
  const writer = openFitsWriter(fd, {
    width: WIDTH,
    height: HEIGHT,
    bitpix: 16,
    unsigned: true,
    checksum: false,
    cards: [
      { keyword: 'IMAGETYP', value: 'LIGHT' },
      { keyword: 'INSTRUME', value: 'Bench camera' },
      { keyword: 'EXPTIME', value: 300 },
      { keyword: 'BAYERPAT', value: 'RGGB' },
      { keyword: 'DATE-OBS', value: '2026-11-20T22:00:00' },
    ],
  })
  const strip = new Uint16Array(STRIP * WIDTH)
  let seed = 1
  for (let y = 0; y < HEIGHT; y += STRIP) {
    const rows = Math.min(STRIP, HEIGHT - y)
    for (let i = 0; i < rows * WIDTH; i++) {
      seed = (Math.imul(seed, 1664525) + 1013904223) >>> 0
      strip[i] = 1000 + y / 20 + (seed >>> 24) + (seed % 9973 === 0 ? 40_000 : 0)
    }
    writer.writeRows(strip.subarray(0, rows * WIDTH))
  }
  writer.finish()
  closeSync(fd)
}

const rounds = Number(process.argv[2] ?? 3)
const folder = mkdtempSync(join(tmpdir(), 'nightshelf-view-'))
using _ = { [Symbol.dispose]: () => rmSync(folder, { recursive: true, force: true }) }
mkdirSync(join(folder, 'capture'))
writeLarge(join(folder, 'capture', 'large.fits'))
await using host = await Host.start({ data: join(folder, 'data'), args: ['--watch', join(folder, 'capture')] })
await using browser = await launchChromium()
const page = await browser.newPage({ viewport: { width: 1280, height: 800 } })
await page.goto(host.address)
await page.locator('.band').first().waitFor({ timeout: 60_000 })
// The second lane measures the frame first; it would share the cores.
await page.waitForTimeout(4000)

interface Measured {
  firstMs: number
  wholeMs: number
  longestMs: number
  tasks: number
}

/** Processor time of the window's own thread so far, ms: what else the machine is busy with does not count. */
const ticks = await page.context().newCDPSession(page)
await ticks.send('Performance.enable', { timeDomain: 'threadTicks' })
const spentMs = async () => {
  const { metrics } = await ticks.send('Performance.getMetrics')
  return 1000 * metrics.find(({ name }) => name === 'TaskDuration')!.value
}

/** Opens the image, or does nothing for as long as that took: what the machine is busy with besides shows there as well. */
const measure = (idleMs: number | null) =>
  page.evaluate(async (idleMs): Promise<Measured> => {
    let tasks = 0
    const observer = new PerformanceObserver((list) => void (tasks += list.getEntries().length))
    observer.observe({ entryTypes: ['longtask'] })
    // A beat of a few ms shows what is shorter than what the browser reports (50 ms).
    let longestMs = 0
    let before = performance.now()
    const beat = setInterval(() => {
      longestMs = Math.max(longestMs, performance.now() - before)
      before = performance.now()
    }, 4)
    const start = performance.now()
    const until = (state: string) =>
      new Promise<number>((resolve) => {
        const look = () => (document.querySelector(state) ? resolve(performance.now() - start) : setTimeout(look, 5))
        look()
      })
    let [firstMs, wholeMs] = [0, 0]
    if (idleMs === null) {
      location.hash = '#/view/frame/1'
      firstMs = await until('.stage:is([data-drawn=part], [data-drawn=whole])')
      wholeMs = await until('.stage[data-drawn=whole]')
    } else await new Promise((resolve) => setTimeout(resolve, idleMs))
    clearInterval(beat)
    observer.disconnect()
    return { firstMs, wholeMs, longestMs, tasks }
  }, idleMs)

const found: Measured[] = []
const idle: Measured[] = []
const spent: number[] = []
for (let round = 0; round < rounds; round++) {
  await page.evaluate(() => void (location.hash = '#/tonight'))
  await page.waitForTimeout(1000)
  const before = await spentMs()
  found.push(await measure(null))
  spent.push((await spentMs()) - before)
  await page.evaluate(() => void (location.hash = '#/settings'))
  await page.waitForTimeout(1000)
  idle.push(await measure(found.at(-1)!.wholeMs))
}
const median = (values: number[]) => values.toSorted((a, b) => a - b)[values.length >> 1]
const say = (what: string, of: (one: Measured) => number, all = found) =>
  console.log(
    `${what.padEnd(58)} median ${median(all.map(of)).toFixed(0)}, worst ${Math.max(...all.map(of)).toFixed(0)}`,
  )
say('first part of the picture, ms', (one) => one.firstMs)
say('all of it, ms', (one) => one.wholeMs)
say('longest time the window did not answer, ms', (one) => one.longestMs)
say('the same for as long while nothing is opened, ms', (one) => one.longestMs, idle)
console.log(`${'processor time of the window in all of that, ms'.padEnd(58)} median ${median(spent).toFixed(0)}`)
say('tasks over 50 ms', (one) => one.tasks)
say('the same for as long while nothing is opened', (one) => one.tasks, idle)
