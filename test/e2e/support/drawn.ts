import { createServer } from 'node:http'
import { readFileSync } from 'node:fs'
import { createRequire } from 'node:module'
import { fileURLToPath } from 'node:url'
import { decode } from 'fast-png'
import sirv from 'sirv'
import type { Browser, Page } from 'playwright-core'
import { pageHeaders } from '../../../main/host/page-headers.ts'
import { collectTroubles } from './chromium.ts'

/** The built page, drawn from answers that a test brings: for states that a real night reaches seldom or slowly. */

const built = fileURLToPath(new URL('../../../out/renderer/', import.meta.url))
const axeSource = readFileSync(createRequire(import.meta.url).resolve('axe-core/axe.min.js'), 'utf8')

export type Answers = Record<string, unknown>

/** Serves the page with the headers of the real hosts, on a free port. */
export async function servePage(): Promise<{ address: string } & AsyncDisposable> {
  const serve = sirv(built, { setHeaders: (response) => response.setHeaders(new Map(Object.entries(pageHeaders))) })
  const server = createServer((request, response) => serve(request, response, () => void response.writeHead(404).end()))
  await new Promise<void>((resolve) => server.listen(0, '127.0.0.1', resolve))
  const { port } = server.address() as { port: number }
  return {
    address: `http://127.0.0.1:${port}/`,
    [Symbol.asyncDispose]: () => new Promise((resolve) => server.close(() => resolve())),
  }
}

/** Puts a bridge with these answers where Electron's preload would put its own. `tell` sends the page an event. */
function placeBridge(answers: Answers) {
  const listeners = new Set<(event: unknown) => void>()
  const asked: unknown[] = []
  const ask = Object.fromEntries(
    Object.entries(answers).map(([request, answer]) => [
      request,
      async (input: unknown) => {
        asked.push({ request, input })
        return structuredClone(answer)
      },
    ]),
  )
  const listen = (listener: (event: unknown) => void) => {
    listeners.add(listener)
    return () => listeners.delete(listener)
  }
  Object.assign(window, {
    nightshelf: { ask, listen },
    asked,
    tell: (event: unknown) => listeners.forEach((l) => l(event)),
  })
}

/** `refused` stands for a refusal, anything else is an answer. */
export const refused = (sentence: string) => ({ refused: sentence })

export interface DrawOptions {
  width?: number
  height?: number
  look?: 'warm' | 'red-lamp'
  at?: string
  /** Stops the page's clock at this instant (ISO 8601). */
  now?: string
  answers: Answers
}

/** One page in which screen after screen is drawn: each is there far sooner than in a page of its own. */
export class Drawing {
  readonly page: Page
  readonly #address: string
  readonly #troubles: string[]
  #bridge: { dispose(): Promise<void> } | null = null

  private constructor(page: Page, address: string) {
    this.page = page
    this.#address = address
    this.#troubles = collectTroubles(page)
  }

  static async open(browser: Browser, address: string): Promise<Drawing> {
    return new Drawing(await browser.newPage({ timezoneId: 'Europe/London' }), address)
  }

  /** Nothing of what was drawn or stored before is left. */
  async draw(options: DrawOptions) {
    const { width = 1280, height = 800, look = 'warm', at = '#/tonight', now, answers } = options
    const { page } = this
    if (this.#bridge) {
      await this.#bridge.dispose()
      await page.evaluate(() => localStorage.clear())
      await page.goto('about:blank')
      await page.mouse.move(0, 0)
    }
    this.#troubles.length = 0
    const replies = Object.entries(answers).map(([name, answer]) => [
      name,
      answer && typeof answer === 'object' && 'refused' in answer && typeof answer.refused === 'string'
        ? answer
        : { answer },
    ])
    await page.setViewportSize({ width, height })
    if (now) await page.clock.setFixedTime(now)
    this.#bridge = await page.addInitScript(placeBridge, Object.fromEntries(replies))
    await page.goto(`${this.#address}?look=${look}${at}`)
    await page.locator('main h1').waitFor({ state: 'attached' })
    await page.evaluate(() => document.fonts.ready)
    return { page, troubles: this.#troubles }
  }
}

/** A screen in a page of its own. */
export const drawPage = async (browser: Browser, address: string, options: DrawOptions) =>
  (await Drawing.open(browser, address)).draw(options)

export const tell = (page: Page, event: unknown) =>
  page.evaluate((sent) => (window as unknown as { tell(event: unknown): void }).tell(sent), event)

/** What axe finds against WCAG 2.2 AA and its own best practices, as readable lines. */
export async function axeFindings(page: Page): Promise<string[]> {
  // Evaluated through the debugger, because the page's own policy rightly lets no script be added to it.
  await page.evaluate(axeSource)
  return page.evaluate(async () => {
    const { axe } = window as unknown as { axe: typeof import('axe-core') }
    const { violations } = await axe.run(document, {
      runOnly: ['wcag2a', 'wcag2aa', 'wcag21a', 'wcag21aa', 'wcag22aa', 'best-practice'],
    })
    return violations.map(({ id, nodes }) => `${id}: ${nodes.map(({ html }) => html).join(' | ')}`)
  })
}

/** How many pixels of what is on the screen carry green or blue. */
export async function greenOrBluePixels(page: Page): Promise<number> {
  const { data, channels } = decode(await page.screenshot({ fullPage: true }))
  let found = 0
  for (let at = 0; at < data.length; at += channels) if (data[at + 1] || data[at + 2]) found++
  return found
}

/** By how many pixels the page is wider than its window. */
export const sidewaysOverflow = (page: Page) =>
  page.evaluate(() => document.documentElement.scrollWidth - document.documentElement.clientWidth)
