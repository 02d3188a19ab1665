import { readFileSync, readdirSync, statSync } from 'node:fs'
import { join } from 'node:path'

/**
 * The newest modification time (ms) among the sources that the build is made from, and their number
 * (a deleted file makes a build stale as well).
 * @param {string} root the checkout
 * @returns {{newestMs: number, files: number}}
 */
export function newestSource(root) {
  let newestMs = 0
  let files = 0
  for (const top of ['main', 'renderer', 'db'])
    for (const entry of readdirSync(join(root, top), { recursive: true, withFileTypes: true })) {
      if (!entry.isFile()) continue
      files++
      newestMs = Math.max(newestMs, statSync(join(entry.parentPath, entry.name)).mtimeMs)
    }
  return { newestMs, files }
}

/**
 * Why the build cannot be run, in one sentence; null if it can.
 * @param {string} root the checkout
 * @returns {string | null}
 */
export function whyNotRunnable(root) {
  let stamp
  try {
    stamp = JSON.parse(readFileSync(join(root, 'out', 'stamp.json'), 'utf8'))
  } catch {
    return 'Nightshelf is not built yet: run "npm run build" in its folder, then try again.'
  }
  const now = newestSource(root)
  return now.newestMs > stamp.newestMs || now.files !== stamp.files
    ? 'The sources are newer than the build: run "npm run build" in the Nightshelf folder, then try again.'
    : null
}
