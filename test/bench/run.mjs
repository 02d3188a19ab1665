// npm run bench [-- NAME…]: ours and the reference programs in turn, on the same files on this machine; medians and ratios.
import { spawnSync } from 'node:child_process'
import { availableParallelism, loadavg } from 'node:os'
import { resolve } from 'node:path'

/** To add one: a file that prints its own lines, and its name here. */
const all = [
  'log',
  'live',
  'million',
  'hold',
  'match',
  'assess',
  'describe',
  'measure',
  'integrate',
  'watch',
  'inspect',
  'shelf',
  'page',
  'click',
]

const names = process.argv.slice(2)
const unknown = names.filter((name) => !all.includes(name))
if (unknown.length) {
  console.error(`There is no benchmark "${unknown[0]}"; there are ${all.join(', ')}.`)
  process.exit(2)
}
const busy = loadavg()[0] / availableParallelism()
if (busy > 0.5) console.log(`This machine is busy (${busy.toFixed(1)} tasks a core): the times below are too long.\n`)
let failed = 0
for (const name of names.length ? names : all) {
  const script = resolve(import.meta.dirname, `${name}.ts`)
  const hook = resolve(import.meta.dirname, 'raw.mjs')
  const quiet = '--disable-warning=ExperimentalWarning'
  const { status } = spawnSync(process.execPath, [quiet, '--import', hook, script], { stdio: 'inherit' })
  if (status !== 0) {
    console.log(`${name}: failed (exit ${status})`)
    failed++
  }
  console.log('')
}
process.exitCode = failed ? 1 : 0
