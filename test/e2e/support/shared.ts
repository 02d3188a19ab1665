import { mkdtempSync, rmSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'

/** Vitest's set-up of the browser tests: a folder for what several of their files use, gone when the last is done. */
export default function share() {
  const folder = mkdtempSync(join(tmpdir(), 'nightshelf-shared-'))
  process.env.NIGHTSHELF_E2E_SHARED = folder
  return () => rmSync(folder, { recursive: true })
}
