// Imported first by each test process, and so by its threads: see stripped.mjs.
import { existsSync, readFileSync } from 'node:fs'
import { registerHooks } from 'node:module'
import { fileURLToPath } from 'node:url'
import { strippedPath } from './stripped.mjs'

registerHooks({
  load(url, context, next) {
    const path = url.startsWith('file:') && url.endsWith('.ts') ? strippedPath(fileURLToPath(url)) : null
    if (!path || !existsSync(path)) return next(url, context)
    return { format: 'module', source: readFileSync(path, 'utf8'), shortCircuit: true }
  },
})
