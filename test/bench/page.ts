/**
 * The window with 1 000 000 frames logged: from starting the program to the first usable paint of Tonight in a real
 * Chromium (its answer and its list of runs are on the page and painted), through the headless host. Bar 1.5 s from the
 * page's own opening. The host is timed apart: it is started anew each time, so that nothing is cached. Then the strip of that
 * night (600 exposures of lights, 1 000 in all) is zoomed and moved by key, a step a frame: no frame over 50 ms.
 * usage: node test/bench/page.ts [ROUNDS=5], after `npm run build` and `npm run bench -- million` (which makes the database)
 */
import { existsSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { newestVersion } from '../../db/migrate.ts'
import type { Page } from 'playwright-core'
import { launchChromium } from '../e2e/support/chromium.ts'
import { Host } from '../e2e/support/host.ts'
import { ownWork } from './frames.ts'

const data = join(tmpdir(), `nightshelf-bench-million-${newestVersion()}`)

/** Times of the frames while the strip is zoomed in and out and moved, ms. */
const zoomAndMove = (page: Page) =>
  page.evaluate(async () => {
    const strip = document.querySelector('figure:has(.plot)')!
    const times: number[] = []
    let last = performance.now()
    for (let step = 0; step < 240; step++) {
      const key = step % 60 < 12 ? '+' : step % 60 < 36 ? 'ArrowRight' : step % 60 < 48 ? 'ArrowLeft' : '-'
      strip.querySelector('.plot')!.dispatchEvent(new KeyboardEvent('keydown', { key, bubbles: true }))
      await new Promise(requestAnimationFrame)
      const now = performance.now()
      times.push(now - last)
      last = now
    }
    return times.slice(1)
  })

/** Milliseconds from the navigation's start to the frame after the last of the page's needs stood in it. */
async function once(browser: Awaited<ReturnType<typeof launchChromium>>) {
  const from = performance.now()
  await using host = await Host.start({ data })
  const hostMs = performance.now() - from
  await using page = await browser.newPage({ viewport: { width: 1280, height: 800 } })
  await page.addInitScript(() => {
    const usable = () => document.querySelector('.band') && document.querySelectorAll('[data-run]').length > 3
    const look = () =>
      requestAnimationFrame(() => {
        if (usable()) requestAnimationFrame(() => Object.assign(window, { usableMs: performance.now() }))
        else look()
      })
    look()
  })
  await page.goto(host.address)
  const handle = await page.waitForFunction(() => (window as { usableMs?: number }).usableMs, undefined, {
    timeout: 60_000,
  })
  const usableMs = (await handle.jsonValue())!
  let frames: number[] = []
  const own = await ownWork(browser, page, async () => (frames = await zoomAndMove(page)))
  return {
    hostMs,
    usableMs,
    longestMs: Math.max(...frames),
    slow: frames.filter((ms) => ms > 50).length,
    frames: frames.length,
    ...own,
  }
}

if (!existsSync(data)) console.log('page: not run (npm run bench -- million makes its database first)')
else {
  await using browser = await launchChromium()
  const rounds: Awaited<ReturnType<typeof once>>[] = []
  for (let round = 0; round < Number(process.argv[2] ?? 5); round++) rounds.push(await once(browser))
  const median = (name: 'hostMs' | 'usableMs') =>
    rounds
      .map((round) => round[name])
      .toSorted((a, b) => a - b)
      [rounds.length >> 1]!.toFixed(0)
  const slow = rounds.reduce((sum, round) => sum + round.slow, 0)
  const frames = rounds.reduce((sum, round) => sum + round.frames, 0)
  const longest = Math.max(...rounds.map(({ longestMs }) => longestMs)).toFixed(0)
  const longestTask = Math.max(...rounds.map(({ longestTaskMs }) => longestTaskMs)).toFixed(0)
  const drawing = (rounds.reduce((sum, round) => sum + round.drawingMs, 0) / frames).toFixed(1)
  console.log(
    `its strip zoomed and moved: ${slow} of ${frames} frames over 50 ms, the longest ${longest} ms (bar none); own work: longest task ${longestTask} ms, drawing ${drawing} ms a frame`,
  )
  console.log(
    `1 000 000 frames in Chromium, ${rounds.length} rounds: program up in ${median('hostMs')} ms, Tonight usable ${median('usableMs')} ms after its page was opened (bar 1500, stretch 700)`,
  )
}
