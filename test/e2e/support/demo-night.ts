import { mkdtempSync, readdirSync, rmSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import type { Browser, BrowserContext, Page } from 'playwright-core'
import { collectTroubles } from './chromium.ts'
import { Host, runCommandLine } from './host.ts'

/** The whole simulated night on disk, logged by a host of its own, and a page that looks at it. */
export class DemoNight implements AsyncDisposable {
  readonly folder = mkdtempSync(join(tmpdir(), 'nightshelf-demo-'))
  host!: Host
  context!: BrowserContext
  page!: Page
  troubles: string[] = []

  /** Writes the night, starts the host with it watched, and opens the page on `at`. `library`: with its masters of earlier nights. */
  static async open(browser: Browser, at = '#/tonight', options: { library?: boolean } = {}): Promise<DemoNight> {
    const night = new DemoNight()
    const written = await runCommandLine(night.folder, 'demo', join(night.folder, 'night'), '--night', '2026-11-20')
    if (written.code !== 0) throw new Error(`The demo night was not written: ${written.stderr}`)
    const data = join(night.folder, 'data')
    if (options.library) {
      const shelf = join(night.folder, 'night', 'library')
      const files = readdirSync(shelf).map((name) => join(shelf, name))
      await runCommandLine(data, 'library', 'add', ...files)
    }
    night.host = await Host.start({
      data,
      args: ['--watch', join(night.folder, 'night', 'capture')],
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
