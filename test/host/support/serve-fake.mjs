// Runs the verb `serve` from its source against the fake engine, as a process of its own that can be sent signals.
// Arguments: the page's folder, then those of the command line.
import { parseArgs } from 'node:util'
import { Refusal } from '../../../main/contract/index.ts'
import { serveFrom } from '../../../main/host/cli/verbs/serve.ts'
import { UsageError } from '../../../main/host/cli/verb.ts'

const [page, dataDir, ...args] = process.argv.slice(2)
const verb = serveFrom({ engine: new URL('./fake-engine.mjs', import.meta.url).pathname, page, version: '0.0.0-test' })
const stop = new AbortController()
process.on('SIGINT', () => stop.abort()).on('SIGTERM', () => stop.abort())
const { values, positionals } = parseArgs({ args, options: verb.options, allowPositionals: true })
try {
  process.exitCode = await verb.run({
    options: values,
    words: positionals,
    dataDir,
    json: false,
    say: (line) => console.log(line),
    answer: () => {},
    complain: (sentence) => console.error(`nightshelf: ${sentence}`),
    signal: stop.signal,
  })
} catch (error) {
  if (!(error instanceof Refusal || error instanceof UsageError)) throw error
  console.error(`nightshelf: ${error.message}`)
  process.exitCode = error instanceof UsageError ? 2 : 1
}
