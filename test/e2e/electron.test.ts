import { mkdtempSync, rmSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { _electron, type ElectronApplication, type Page } from 'playwright-core'
import { afterAll, beforeAll, describe, expect, test } from 'vitest'
import { installedRuntime, whyNoWindow } from '../../main/host/runtime.mjs'
import { root } from './support/host.ts'

const runtime = installedRuntime(join(root, 'node_modules', 'electron'))
const noWindow = whyNoWindow({ platform: process.platform, env: process.env, uid: process.getuid?.() })
const notRun = runtime === null ? 'its runtime is not here' : noWindow
if (notRun) console.warn(`The Electron window: not run (${notRun}).`)

/** What only Electron itself can show; its main script and preload are tested without it elsewhere. */
describe.skipIf(notRun !== null)(`the Electron window${notRun ? ` (not run: ${notRun})` : ''}`, () => {
  const data = mkdtempSync(join(tmpdir(), 'nightshelf-electron-'))
  let app: ElectronApplication
  let page: Page
  beforeAll(async () => {
    app = await _electron.launch({ executablePath: runtime!, args: [root, '--data', data] })
    page = await app.firstWindow()
  })
  afterAll(async () => {
    await app?.close()
    rmSync(data, { recursive: true, force: true })
  })

  test('opens Tonight on its own scheme', async () => {
    await expect.poll(() => page.url()).toBe('nightshelf://window/#/tonight')
    await expect.poll(() => page.locator('main h1').first().textContent()).toMatch(/Tonight/)
  })

  test('asks the engine, which runs as a process of its own on the database', async () => {
    const reply = await page.evaluate(() => window.nightshelf!.ask.nights({}))
    expect(reply).toEqual({ answer: { nights: [] } })
  })

  test('is sandboxed: the page has no require, no process and no opened window', async () => {
    const found = await page.evaluate(() => ({
      require: typeof (globalThis as { require?: unknown }).require,
      process: typeof (globalThis as { process?: unknown }).process,
      opened: window.open('https://example.invalid/'),
    }))
    expect(found).toEqual({ require: 'undefined', process: 'undefined', opened: null })
  })

  test('reaches no network, not even when the page asks for it', async () => {
    await expect(page.evaluate(() => fetch('http://127.0.0.1:9/'))).rejects.toThrow(/Failed to fetch/)
  })

  test('stays where it is', async () => {
    await page.evaluate(() => void (location.href = 'https://example.invalid/'))
    await page.waitForTimeout(300)
    expect(page.url()).toMatch(/^nightshelf:\/\/window\//)
  })
})
