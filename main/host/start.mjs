// `npm start`: the window where one can be opened, else the same window served to a browser on this machine.
import { spawn } from 'node:child_process'
import { fileURLToPath } from 'node:url'
import { endWithNpmShell } from './npm-shell.mjs'
import { fetchRuntime, installedRuntime, whyNoWindow } from './runtime.mjs'

/** A window that ends with an error so soon never opened: a library is missing, or the display refused it. */
const NEVER_OPENED_MS = 5_000

const root = fileURLToPath(new URL('../../', import.meta.url))
const electron = fileURLToPath(new URL('../../node_modules/electron', import.meta.url))
const say = (line) => process.stdout.write(`${line}\n`)

const asked = process.argv.slice(2)
const args = asked.filter((arg) => arg !== '--headless')
const why = asked.includes('--headless') ? 'As asked' : await openWindow()
if (why !== null) {
  say(`${why}: the same window is served to a browser on this machine.`)
  process.argv = [...process.argv.slice(0, 2), 'serve', ...args]
  await import('./nightshelf.mjs')
}

/** @returns {Promise<string | null>} why there is no window, as the beginning of a sentence; null after one was open */
async function openWindow() {
  const never = whyNoWindow({ platform: process.platform, env: process.env, uid: process.getuid?.() })
  if (never) return never
  const program = installedRuntime(electron) ?? (await fetchRuntime(electron, say))
  if (!program) return "The window's runtime (Electron) is not here and could not be fetched"
  const startedAt = performance.now()
  endWithNpmShell()
  const window = spawn(program, [root, ...args], { stdio: 'inherit' })
  for (const signal of ['SIGTERM', 'SIGINT', 'SIGHUP']) process.on(signal, () => window.kill(signal))
  const code = await new Promise((resolve) => {
    window.on('close', (code) => resolve(code ?? 1)).on('error', () => resolve(1))
  })
  if (code !== 0 && performance.now() - startedAt < NEVER_OPENED_MS) return 'The window could not be opened'
  process.exitCode = code
  return null
}
