/**
 * A click answered while 10 000 frames are being logged and a master is being built: real Chromium, headless host, real
 * engine. The clicks go from place to place; each is timed inside the page, from the event until the frame after the new
 * place's heading and first answer stood in it (that is what a person sees). Bar p95 100 ms.
 * usage: node test/bench/click.ts [FRAMES=10000], after `npm run build`
 */
import { mkdirSync, mkdtempSync, rmSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { setTimeout as sleep } from 'node:timers/promises'
import type { Page } from 'playwright-core'
import { encodeFits } from '../../main/fits/write.ts'
import { launchChromium } from '../e2e/support/chromium.ts'
import { Host } from '../e2e/support/host.ts'

const WIDTH = 4144
const HEIGHT = 2822

function frame(i: number, kind: string, width: number, height: number, exposureS: number): Buffer {
  const image = new Uint16Array(width * height).fill(500 + (i % 7))
  for (let p = 0; p < image.length; p += 97) image[p] = 500 + ((p + i * 7919) % 400)
  const startedAt = new Date(Date.UTC(2026, 10, 20, 18) + i * 4000).toISOString().slice(0, 19)
  const cards = [
    { keyword: 'IMAGETYP', value: kind },
    { keyword: 'INSTRUME', value: 'Testcam 26' },
    { keyword: 'GAIN', value: 100 },
    { keyword: 'OFFSET', value: 30 },
    { keyword: 'SET-TEMP', value: -10 },
    { keyword: 'CCD-TEMP', value: -10 },
    { keyword: 'EXPTIME', value: exposureS },
    { keyword: 'FILTER', value: ['L', 'Ha', 'OIII', 'SII'][Math.floor(i / 600) % 4]! },
    { keyword: 'OBJECT', value: `Field ${Math.floor(i / 600)}` },
    { keyword: 'DATE-OBS', value: startedAt },
  ]
  return encodeFits({ width, height, bitpix: 16, unsigned: true, cards, image, checksum: false })
}

/** Clicks a place's link and waits, in the page, for the frame in which it stands; ms. */
const visit = (page: Page, place: string) =>
  page.evaluate(async (name) => {
    const link = [...document.querySelectorAll<HTMLAnchorElement>('nav a')].find((a) => a.textContent === name)!
    const painted = () => new Promise((done) => requestAnimationFrame(() => requestAnimationFrame(done)))
    const from = performance.now()
    link.click()
    while (document.querySelector('main h1')?.textContent !== name) await new Promise(requestAnimationFrame)
    await painted()
    const shownMs = performance.now() - from
    // Answered: nothing says any more that it is still being read.
    while (/^Reading the \w+…/m.test(document.querySelector('main')!.innerText))
      await new Promise(requestAnimationFrame)
    return { shownMs, answeredMs: performance.now() - from }
  }, place)

const at = (times: number[], fraction: number) =>
  times.toSorted((a, b) => a - b)[Math.min(times.length - 1, Math.floor(times.length * fraction))]!.toFixed(0)

async function main(frames: number): Promise<void> {
  const base = mkdtempSync(join(tmpdir(), 'nightshelf-bench-click-'))
  const backlog = join(base, 'backlog')
  const raw = join(base, 'raw')
  for (const folder of [backlog, raw]) mkdirSync(folder)
  for (let i = 0; i < frames; i++) writeFileSync(join(backlog, `light_${i}.fits`), frame(i, 'Light Frame', 32, 24, 60))
  // Enough for a build that lasts: darks of 11.7 Mpx in sets of twenty.
  for (let i = 0; i < 60; i++)
    writeFileSync(
      join(raw, `dark_${i}.fits`),
      frame(20_000 + i, 'Dark Frame', WIDTH, HEIGHT, 60 * (1 + Math.floor(i / 20))),
    )
  const browser = await launchChromium()
  const host = await Host.start({ data: join(base, 'data'), args: ['--watch', raw] })
  const page = await browser.newPage({ viewport: { width: 1280, height: 800 } })
  await page.goto(host.address)
  await page.locator('.band').waitFor({ timeout: 120_000 })
  await visit(page, 'Shelf')
  await page
    .getByRole('button', { name: /^Build/ })
    .first()
    .click({ timeout: 120_000 })
  await visit(page, 'Settings')
  await page.getByRole('button', { name: 'Watch another folder' }).click()
  await page.getByLabel('Folder on this machine').fill(backlog)
  await page.getByRole('button', { name: 'Watch this folder' }).click()
  const shown: number[] = []
  const answered: number[] = []
  const longest = { place: '', ms: 0 }
  const places = ['Tonight', 'Shelf', 'Flats', 'Nights', 'Settings']
  const from = performance.now()
  let logged = 0
  while (logged < frames && performance.now() - from < 120_000) {
    for (const place of places) {
      const { shownMs, answeredMs } = await visit(page, place)
      shown.push(shownMs)
      answered.push(answeredMs)
      if (answeredMs > longest.ms) Object.assign(longest, { place, ms: answeredMs })
      await sleep(150)
    }
    logged = await page.evaluate(() => {
      const counts = document.querySelector('#folders-title')?.closest('section')?.textContent ?? ''
      return Math.max(
        0,
        ...[...counts.matchAll(/([\d\u202f]+)\u00a0frames?/g)].map(([, n]) => Number(n!.replaceAll('\u202f', ''))),
      )
    })
  }
  const underWayS = (performance.now() - from) / 1000
  console.log(
    `${shown.length} clicks during ${underWayS.toFixed(0)} s in which ${logged} frames were logged beside a build: the place shown p50 ${at(shown, 0.5)} ms, p95 ${at(shown, 0.95)} ms, most ${at(shown, 1)} ms; with its answer p50 ${at(answered, 0.5)} ms, p95 ${at(answered, 0.95)} ms, most ${at(answered, 1)} ms (${longest.place}; bar p95 100 ms)`,
  )
  await page.close()
  await host.stop()
  await browser.close()
  rmSync(base, { recursive: true, force: true })
}

await main(Number(process.argv[2] ?? 10_000))
