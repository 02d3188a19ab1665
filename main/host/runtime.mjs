import { spawn } from 'node:child_process'
import { existsSync, readFileSync } from 'node:fs'
import { join } from 'node:path'

/** Long enough for an answer from a server that can be reached; an offline machine must not wait for its window. */
const PROBE_MS = 1_000
const FETCH_MS = 15 * 60_000

/**
 * Why a window cannot be opened on this machine at all, as the beginning of a sentence; null if it can.
 * @param {{platform: string, env: Record<string, string | undefined>, uid: number | undefined}} machine
 * @returns {string | null}
 */
export function whyNoWindow({ platform, env, uid }) {
  if (platform === 'linux' && !env.DISPLAY && !env.WAYLAND_DISPLAY) return 'There is no display here'
  // Chromium's sandbox does not start as root, and it is never switched off.
  if (platform === 'linux' && uid === 0) return 'A window is not opened as root'
  return null
}

/**
 * The Electron runtime that belongs to the installed package.
 * @param {string} folder `node_modules/electron`
 * @returns {string | null} the program's path; null if it was never fetched or belongs to another version
 */
export function installedRuntime(folder) {
  try {
    const { version } = JSON.parse(readFileSync(join(folder, 'package.json'), 'utf8'))
    if (
      readFileSync(join(folder, 'dist', 'version'), 'utf8')
        .trim()
        .replace(/^v/, '') !== version
    )
      return null
    const program = join(folder, 'dist', readFileSync(join(folder, 'path.txt'), 'utf8'))
    return existsSync(program) ? program : null
  } catch {
    return null
  }
}

/**
 * Fetches the runtime with the package's own installer, which checks it against the checksums that it brings.
 * @param {string} folder `node_modules/electron`
 * @param {(line: string) => void} say
 * @returns {Promise<string | null>} the program's path; null if it could not be fetched
 */
export async function fetchRuntime(folder, say) {
  const bytes = await sizeOfDownload(folder)
  if (bytes === null) return null
  const size = bytes ? `${Math.round(bytes / 1e6)} MB` : 'some 100 MB'
  say(`The window's runtime (Electron) is fetched once, ${size}; "npm start -- --headless" does without.`)
  const installer = spawn(process.execPath, [join(folder, 'install.js')], {
    stdio: ['ignore', 'ignore', 'ignore'],
    timeout: FETCH_MS,
  })
  await new Promise((resolve) => installer.on('close', resolve).on('error', resolve))
  return installedRuntime(folder)
}

/** @returns {Promise<number | null>} bytes, 0 if the server does not tell; null if it cannot be reached */
async function sizeOfDownload(folder) {
  try {
    const { version } = JSON.parse(readFileSync(join(folder, 'package.json'), 'utf8'))
    const mirror =
      process.env.npm_config_electron_mirror ??
      process.env.ELECTRON_MIRROR ??
      'https://github.com/electron/electron/releases/download/'
    const address = `${mirror}v${version}/electron-v${version}-${process.platform}-${process.arch}.zip`
    const { ok, headers } = await fetch(address, { method: 'HEAD', signal: AbortSignal.timeout(PROBE_MS) })
    return ok ? Number(headers.get('content-length')) : null
  } catch {
    return null
  }
}
