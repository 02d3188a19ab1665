import { resolve } from 'node:path'
import packageJson from '../../package.json' with { type: 'json' }

/** The folder of the built scripts, whether this runs from there or, under test, from its source. */
const scripts = import.meta.url.endsWith('.ts') ? resolve(import.meta.dirname, '../../out/main') : import.meta.dirname

/** Where the parts of the build stand, and which version they are. */
export const built = {
  engine: resolve(scripts, 'engine.js'),
  page: resolve(scripts, '../renderer'),
  preload: resolve(scripts, '../preload/preload.cjs'),
  version: packageJson.version,
}
