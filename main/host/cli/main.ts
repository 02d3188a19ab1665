import { parseArgs, type ParseArgsOptionsConfig } from 'node:util'
import { resolve } from 'node:path'
import { Refusal } from '../../contract/index.ts'
import { defaultDataDir } from '../data-dir.ts'
import { UsageError, type Call } from './verb.ts'
import { verbs } from './verbs/index.ts'
import { sayWayOut } from './words.ts'

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
    if (error instanceof Refusal) return (complain([error.message, ...error.waysOut.map(sayWayOut)].join(' ')), 1)
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
      args: attachValues(args, options),
      options: { ...options, json: { type: 'boolean' }, help: { type: 'boolean' } },
      allowPositionals: true,
    })
  } catch (error) {
    throw new UsageError((error as Error).message.split('\n')[0])
  }
}

/**
 * Writes values to the option they belong to, where `parseArgs` would not: a negative number (`--temp -10`), and every word
 * after an option that may stand several times (`--flats A B`).
 */
function attachValues(args: string[], options: ParseArgsOptionsConfig): string[] {
  const attached: string[] = []
  let open: string | null = null
  for (const [i, arg] of args.entries()) {
    const before = attached.at(-1)
    if (arg.startsWith('--')) {
      open = options[arg.slice(2)]?.multiple ? arg : null
      if (open && (args[i + 1] ?? '--').startsWith('--')) throw new UsageError(`${open} needs a value after it.`)
      if (!open) attached.push(arg)
    } else if (open) attached.push(`${open}=${arg}`)
    else if (/^-\d/.test(arg) && before?.startsWith('--') && !before.includes('='))
      attached[attached.length - 1] = `${before}=${arg}`
    else attached.push(arg)
  }
  return attached
}

process.exitCode = await runCommandLine(process.argv.slice(2), process.stdout, process.stderr)
