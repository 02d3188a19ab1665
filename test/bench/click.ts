/**
 * A click answered while 10 000 frames are being logged and a master is being built: real Chromium, headless host, real
 * engine. The clicks go from place to place; each is timed inside the page, from the event until the frame after the new
 * place's heading and first answer stood in it (that is what a person sees). Bar p95 100 ms. Only clicks count during
 * which frames came into the log and a build ran; the page's own work for a click stands beside.
 * usage: node test/bench/click.ts [FRAMES=10000] [SETS=6] (sets of twenty raw darks to build), after `npm run build`
 */
import { mkdirSync, mkdtempSync, rmSync, writeFileSync } from 'node:fs'
import { availableParallelism, loadavg, tmpdir } from 'node:os'
import { join } from 'node:path'
import { setTimeout as sleep } from 'node:timers/promises'
import Database from 'better-sqlite3'
import type { Page } from 'playwright-core'
import { encodeFits } from '../../main/fits/write.ts'
import { launchChromium } from '../e2e/support/chromium.ts'
import { Host } from '../e2e/support/host.ts'
import { mainThread } from './frames.ts'

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

/** What goes on meanwhile: frames in the log and when one came last (by the database), and whether a build runs (by what the engine tells the page). */
function listen(page: Page, data: string) {
  const heard = { logged: 0, loggedAt: -Infinity, building: false }
  const db = new Database(join(data, 'nightshelf.db'), { readonly: true })
  const count = db.prepare('SELECT count(*) FROM frames').pluck()
  const look = setInterval(() => {
    const logged = count.get() as number
    if (logged > heard.logged) Object.assign(heard, { logged, loggedAt: performance.now() })
  }, 250)
  page.once('close', () => {
    clearInterval(look)
    db.close()
  })
  page.on('websocket', (socket) =>
    socket.on('framereceived', ({ payload }) => {
      const text = String(payload)
      if (!text.startsWith('{"event"')) return
      const { event } = JSON.parse(text) as { event: { event: string; job?: string; state?: string } }
      if (event.event === 'progress' && event.job === 'build') heard.building = event.state === 'running'
    }),
  )
  return heard
}

const at = (times: number[], fraction: number) =>
  times.toSorted((a, b) => a - b)[Math.min(times.length - 1, Math.floor(times.length * fraction))]!.toFixed(0)

interface Click {
  place: string
  shownMs: number
  answeredMs: number
  ownMs: number
}

function report(clicks: readonly Click[], what: string): void {
  const of = (name: 'shownMs' | 'answeredMs' | 'ownMs') => {
    const times = clicks.map((click) => click[name])
    return `p50 ${at(times, 0.5)} ms, p95 ${at(times, 0.95)} ms, most ${at(times, 1)} ms`
  }
  if (!clicks.length) return console.log(`${what}: no click fell into that time: raise the number of frames or of sets`)
  const byPlace = [...Map.groupBy(clicks, ({ place }) => place)].map(
    ([place, own]) =>
      `${place} ${at(
        own.map(({ answeredMs }) => answeredMs),
        0.95,
      )}`,
  )
  console.log(
    `${what}: ${clicks.length} clicks\n  the place shown ${of('shownMs')}\n  with its answer ${of('answeredMs')} (bar p95 100 ms; p95 of each: ${byPlace.join(', ')})\n  own work of the page's thread ${of('ownMs')}`,
  )
}

/** A backlog of small lights, and darks of 11.7 Mpx in sets of twenty, for a build that lasts. */
function write(backlog: string, raw: string, frames: number, sets: number): void {
  for (const folder of [backlog, raw]) mkdirSync(folder)
  for (let i = 0; i < frames; i++) writeFileSync(join(backlog, `light_${i}.fits`), frame(i, 'Light Frame', 32, 24, 60))
  for (let i = 0; i < sets * 20; i++) {
    const exposureS = 60 * (1 + Math.floor(i / 20))
    writeFileSync(join(raw, `dark_${i}.fits`), frame(50_000 + i, 'Dark Frame', WIDTH, HEIGHT, exposureS))
  }
}

async function begin(page: Page, backlog: string, sets: number): Promise<void> {
  await visit(page, 'Shelf')
  await page.getByRole('button', { name: `Build all ${sets} masters` }).click({ timeout: 240_000 })
  await visit(page, 'Settings')
  await page.getByRole('button', { name: 'Watch another folder' }).click()
  await page.getByLabel('Folder on this machine').fill(backlog)
  await page.getByRole('button', { name: 'Watch this folder' }).click()
}

async function main(frames: number, sets: number): Promise<void> {
  const base = mkdtempSync(join(tmpdir(), 'nightshelf-bench-click-'))
  using _ = { [Symbol.dispose]: () => rmSync(base, { recursive: true, force: true }) }
  const [backlog, raw] = [join(base, 'backlog'), join(base, 'raw')]
  write(backlog, raw, frames, sets)
  await using browser = await launchChromium()
  await using host = await Host.start({ data: join(base, 'data'), args: ['--watch', raw] })
  await using page = await browser.newPage({ viewport: { width: 1280, height: 800 } })
  const heard = listen(page, host.data)
  await page.goto(host.address)
  await page.locator('.band').waitFor({ timeout: 120_000 })
  await begin(page, backlog, sets)
  // The raw darks were logged before they could be offered for a build.
  const before = sets * 20
  const both: Click[] = []
  const logging: Click[] = []
  const from = performance.now()
  while (heard.logged - before < frames && performance.now() - from < 180_000) {
    for (const place of ['Tonight', 'Shelf', 'Flats', 'Nights', 'Settings']) {
      const thread = await mainThread(page)
      const times = await visit(page, place)
      const click = { place, ...times, ownMs: await thread.since() }
      if (performance.now() - heard.loggedAt < 1000) (heard.building ? both : logging).push(click)
      await sleep(150)
    }
  }
  console.log(
    `${heard.logged - before} frames logged in ${((performance.now() - from) / 1000).toFixed(0)} s beside a build of ${sets} masters; ${loadavg()[0]!.toFixed(1)} tasks on ${availableParallelism()} cores`,
  )
  report(both, 'while frames were logged and masters built')
  report(logging, 'while frames were logged, no build')
}

await main(Number(process.argv[2] ?? 10_000), Number(process.argv[3] ?? 6))
