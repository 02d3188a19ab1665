import { existsSync } from 'node:fs'
import { delimiter, join } from 'node:path'
import { chromium, type Browser, type Page } from 'playwright-core'

const NAMES = ['chromium', 'chromium-browser', 'google-chrome', 'google-chrome-stable']
const ELSEWHERE = [
  '/Applications/Chromium.app/Contents/MacOS/Chromium',
  '/Applications/Google Chrome.app/Contents/MacOS/Google Chrome',
  'C:\\Program Files\\Google\\Chrome\\Application\\chrome.exe',
]

/** Without a sandbox (CI runs as root), without a GPU, and without any request of the browser's own to the network. */
const FLAGS = [
  '--no-sandbox',
  '--headless',
  '--disable-gpu',
  '--disable-quic',
  '--no-first-run',
  '--disable-background-networking',
  '--disable-component-update',
  '--disable-sync',
]

/** The system's Chromium: CHROMIUM_PATH, or the first found. Throws one sentence that says what to install. */
export function findChromium(env: NodeJS.ProcessEnv = process.env): string {
  if (env.CHROMIUM_PATH) {
    if (existsSync(env.CHROMIUM_PATH)) return env.CHROMIUM_PATH
    throw new Error(
      `CHROMIUM_PATH is ${env.CHROMIUM_PATH}, and there is no such file: name the browser's program, or unset it.`,
    )
  }
  const folders = ['/usr/bin', '/snap/bin', ...(env.PATH ?? '').split(delimiter)]
  const found = [...NAMES.flatMap((name) => folders.map((folder) => join(folder, name))), ...ELSEWHERE].find(existsSync)
  if (found) return found
  throw new Error(
    'The browser tests need Chromium: install it ("sudo apt-get install chromium" on Debian), or name one in CHROMIUM_PATH.',
  )
}

export function launchChromium(): Promise<Browser> {
  return chromium.launch({ executablePath: findChromium(), args: FLAGS })
}

/** Everything that a page complains about: errors of its scripts, the console's errors, requests that failed and that it did not end itself. */
export function collectTroubles(page: Page): string[] {
  const troubles: string[] = []
  page.on('pageerror', (error) => troubles.push(`script: ${error.message}`))
  page.on('console', (message) => {
    if (message.type() === 'error' || message.type() === 'warning') troubles.push(`console: ${message.text()}`)
  })
  page.on('requestfailed', (request) => {
    const why = request.failure()?.errorText
    if (why !== 'net::ERR_ABORTED') troubles.push(`request: ${request.url()} ${why}`)
  })
  return troubles
}
