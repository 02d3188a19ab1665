import { readFileSync } from 'node:fs'
import { join } from 'node:path'
import type { Browser, Page } from 'playwright-core'
import type { Booted } from '../../host/electron/support/boot.ts'
import { root } from './host.ts'

/** Where the browser believes the page to be; it is answered by the Electron host's own scheme handler. */
const STAGE = 'http://localhost:9/'
const OWN = 'nightshelf://window/'

/**
 * The built page with the built preload in a real browser, against the built main script: only the transport between
 * `ipcRenderer` and `ipcMain` is the test's.
 */
export async function openBridged(browser: Browser, { electron }: Booted): Promise<Page> {
  const page = await browser.newPage()
  await page.exposeFunction('__invoke', (channel: string, input: unknown) =>
    electron.ask(channel.replace(/^ask:/, ''), input),
  )
  electron.noted = ({ what, args }) => {
    if (what !== 'webContents.send' || page.isClosed()) return
    void page
      .evaluate(([channel, message]) => window.__hear?.(channel, message), args as [string, unknown])
      .catch(() => {})
  }
  await page.addInitScript(playElectron, readFileSync(join(root, 'out', 'preload', 'preload.cjs'), 'utf8'))
  await page.route(`${STAGE}**`, async (route) => {
    const request = route.request()
    const address = request.url().replace(STAGE, OWN)
    const response = await electron.respond(
      new Request(address, { method: request.method(), headers: await request.allHeaders() }),
    )
    await route.fulfill({
      status: response.status,
      headers: Object.fromEntries(response.headers),
      body: Buffer.from(await response.arrayBuffer()),
    })
  })
  await page.goto(`${STAGE}#/tonight`)
  electron.page.emit('dom-ready')
  return page
}

/** Runs the preload as a sandboxed one is run: with a `require` that knows `electron` and nothing else. */
function playElectron(preload: string): void {
  const hearing = new Set<(event: unknown, message: unknown) => void>()
  const electron = {
    contextBridge: { exposeInMainWorld: (name: string, bridge: unknown) => Object.assign(window, { [name]: bridge }) },
    ipcRenderer: {
      invoke: (channel: string, input: unknown) => window.__invoke(channel, input),
      on: (_channel: string, hear: (event: unknown, message: unknown) => void) => void hearing.add(hear),
      off: (_channel: string, hear: (event: unknown, message: unknown) => void) => void hearing.delete(hear),
    },
  }
  // What Electron does for a file that was dropped; one made by the page stands nowhere.
  const webUtils = { getPathForFile: (file: File) => (file.name.startsWith('dropped') ? `/night/${file.name}` : '') }
  Object.assign(electron, { webUtils })
  window.__hear = (_channel, message) => {
    for (const hear of hearing) hear({ sender: 'not for the page' }, message)
  }
  const require = (name: string) => {
    if (name === 'electron') return electron
    throw new Error(`A sandboxed preload has no "${name}".`)
  }
  // An init script is the browser's own and runs outside the page's policy, as a preload does.
  new Function('require', 'module', 'exports', preload)(require, { exports: {} }, {})
}

declare global {
  interface Window {
    __invoke(channel: string, input: unknown): Promise<unknown>
    __hear?(channel: string, message: unknown): void
  }
}
