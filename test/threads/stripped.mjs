// Threads that tests start from sources would each load Node's type stripper, which is WebAssembly with imports: with several
// threads coming and going, V8 now and then aborts the process there (SIGTRAP, seen in CI). So their types are stripped
// beforehand, once a run, by `strip.mjs`; `load.mjs` gives Node the stripped copies.
import { statSync } from 'node:fs'
import { fileURLToPath } from 'node:url'

export const root = fileURLToPath(new URL('../../', import.meta.url))

/** Where the stripped copy of a source under `main/` is kept: another name as soon as the source changes. Null for any other file. */
export function strippedPath(path) {
  const name = path.startsWith(root) ? path.slice(root.length) : ''
  if (!name.startsWith('main/') || !name.endsWith('.ts')) return null
  const { mtimeMs, size } = statSync(path)
  return `${process.env.STRIPPED_SOURCES}/${name.replaceAll('/', '.')}-${mtimeMs}-${size}.mjs`
}
