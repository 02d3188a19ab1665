import { existsSync, mkdtempSync, readdirSync, renameSync, rmSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import type { Browser, BrowserContext, Page } from 'playwright-core'
import { collectTroubles } from './chromium.ts'
import { Host, runCommandLine } from './host.ts'

/** The whole simulated night on disk: written by the first who asks, never changed, gone with the last (support/shared.ts). */
async function writtenNight(): Promise<string> {
  const folder = join(process.env.NIGHTSHELF_E2E_SHARED!, 'night')
  if (existsSync(folder)) return folder
  const written = await runCommandLine(`${folder}.data`, 'demo', `${folder}.part`, '--night', '2026-11-20')
  if (written.code !== 0) throw new Error(`The demo night was not written: ${written.stderr}`)
  renameSync(`${folder}.part`, folder)
  return folder
}

/** That night logged by a host of its own, and a page that looks at it. */
export class DemoNight implements AsyncDisposable {
  readonly folder = mkdtempSync(join(tmpdir(), 'nightshelf-demo-'))
  host!: Host
  context!: BrowserContext
  page!: Page
  troubles: string[] = []

  /** Starts the host with the night watched, and opens the page on `at`. `library`: with its masters of earlier nights. */
  static async open(browser: Browser, at = '#/tonight', options: { library?: boolean } = {}): Promise<DemoNight> {
    const night = new DemoNight()
    const written = await writtenNight()
    const data = join(night.folder, 'data')
    if (options.library) {
      const shelf = join(written, 'library')
      const files = readdirSync(shelf).map((name) => join(shelf, name))
      await runCommandLine(data, 'library', 'add', ...files)
    }
    night.host = await Host.start({
      data,
      args: ['--watch', join(written, 'capture')],
    })
    night.context = await browser.newContext({ viewport: { width: 1280, height: 800 }, timezoneId: 'Europe/London' })
    night.page = await night.context.newPage()
    night.troubles = collectTroubles(night.page)
    await night.page.goto(night.host.address)
    await night.page.locator('.band').first().waitFor({ timeout: 60_000 })
    await night.go(at)
    return night
  }

  /** The page of a light, in a tab of its own. */
  async openLight(title: RegExp): Promise<Page> {
    const tab = await this.context.newPage()
    await tab.goto(`${this.host.origin}/#/nights/2026-11-20`)
    await tab.getByRole('button', { name: 'as a table' }).click()
    await tab.getByRole('link', { name: title }).first().click()
    await tab.locator('[data-need="dark"]').waitFor()
    return tab
  }

  /** Another place of the same page. */
  go(at: string): Promise<void> {
    return this.page.evaluate((hash) => void (location.hash = hash), at)
  }

  async [Symbol.asyncDispose](): Promise<void> {
    await this.context?.close()
    await this.host?.stop()
    rmSync(this.folder, { recursive: true, force: true })
  }
}
