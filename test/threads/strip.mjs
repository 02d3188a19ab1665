// Vitest's global set-up: see stripped.mjs.
import { globSync, mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs'
import { stripTypeScriptTypes } from 'node:module'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { root, strippedPath } from './stripped.mjs'

export default function strip() {
  const folder = mkdtempSync(join(tmpdir(), 'nightshelf-stripped-'))
  process.env.STRIPPED_SOURCES = folder
  for (const file of globSync('main/**/*.ts', { cwd: root })) {
    // AssemblyScript, compiled by its own compiler.
    if (file.includes('/assembly/')) continue
    writeFileSync(strippedPath(root + file), stripTypeScriptTypes(readFileSync(root + file, 'utf8')))
  }
  return () => rmSync(folder, { recursive: true })
}
