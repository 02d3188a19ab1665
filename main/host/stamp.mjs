// Marks the build with the newest source it was made from, so that `nightshelf` can refuse to run a stale one.
import { writeFileSync } from 'node:fs'
import { fileURLToPath } from 'node:url'
import { newestSource } from './sources.mjs'

const root = fileURLToPath(new URL('../../', import.meta.url))
writeFileSync(new URL('../../out/stamp.json', import.meta.url), JSON.stringify(newestSource(root)) + '\n')
