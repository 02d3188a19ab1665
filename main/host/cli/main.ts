import { parseArgs, type ParseArgsOptionsConfig } from 'node:util'
import { resolve } from 'node:path'
import { Refusal } from '../../contract/index.ts'
import { defaultDataDir } from '../data-dir.ts'
import { UsageError, type Call } from './verb.ts'
import { verbs } from './verbs/index.ts'

const overview = () =>
  [
    'usage: nightshelf [--data DIR] VERB …',
    '',
    ...verbs.map((verb) => `  ${verb.name.padEnd(10)} ${verb.summary}`),
    '',
    '--json prints one JSON document; VERB --help tells more.',
  ].join('\n')

/**
 * Runs one command line. Prints for people, or exactly one JSON document with `--json`; problems go to stderr as one sentence.
 * @returns the exit code: 0 done, 1 something was refused or is missing, 2 unusable arguments
 */
export async function runCommandLine(
  args: string[],
  out: NodeJS.WritableStream,
  err: NodeJS.WritableStream,
): Promise<number> {
  const complain = (sentence: string) => void err.write(`nightshelf: ${sentence}\n`)
  const stop = new AbortController()
  const abort = () => stop.abort()
  process.on('SIGINT', abort).on('SIGTERM', abort)
  try {
    const { dataDir, rest } = takeData(args)
    const [name, ...words] = rest
    const verb = verbs.find((v) => v.name === name)
    if (!verb) {
      if (name === '--help' || name === 'help') return (out.write(overview() + '\n'), 0)
      throw new UsageError(name ? `There is no verb "${name}". Try --help.` : `Say what to do.\n${overview()}`)
    }
    const parsed = parse(verb.options, words)
    if (parsed.values.help) return (out.write(verb.usage + '\n'), 0)
    const json = parsed.values.json === true
    const call: Call = {
      options: parsed.values,
      words: parsed.positionals,
      dataDir,
      json,
      say: (line) => void (json || out.write(line + '\n')),
      answer: (document) => void (json && out.write(JSON.stringify(document, null, 1) + '\n')),
      complain,
      signal: stop.signal,
    }
    return await verb.run(call)
  } catch (error) {
    if (error instanceof UsageError) return (complain(error.message), 2)
    if (error instanceof Refusal) return (complain(error.message), 1)
    throw error
  } finally {
    process.off('SIGINT', abort).off('SIGTERM', abort)
  }
}

/** `--data DIR` may stand before the verb or after it. */
function takeData(args: string[]): { dataDir: string; rest: string[] } {
  const rest = [...args]
  const at = rest.findIndex((a) => a === '--data' || a.startsWith('--data='))
  if (at < 0) return { dataDir: defaultDataDir(), rest }
  const [option] = rest.splice(at, 1)
  const dir = option.includes('=') ? option.slice('--data='.length) : rest.splice(at, 1)[0]
  if (!dir) throw new UsageError('--data needs a folder after it.')
  return { dataDir: resolve(dir), rest }
}

function parse(options: ParseArgsOptionsConfig, args: string[]) {
  try {
    return parseArgs({
      args: glueNegatives(args),
      options: { ...options, json: { type: 'boolean' }, help: { type: 'boolean' } },
      allowPositionals: true,
    })
  } catch (error) {
    throw new UsageError((error as Error).message.split('\n')[0])
  }
}

/** A negative number after an option is its value (`--temp -10`), which `parseArgs` takes only as `--temp=-10`. */
function glueNegatives(args: string[]): string[] {
  const glued: string[] = []
  for (const arg of args) {
    const before = glued.at(-1)
    if (/^-\d/.test(arg) && before?.startsWith('--') && !before.includes('='))
      glued[glued.length - 1] = `${before}=${arg}`
    else glued.push(arg)
  }
  return glued
}

process.exitCode = await runCommandLine(process.argv.slice(2), process.stdout, process.stderr)
