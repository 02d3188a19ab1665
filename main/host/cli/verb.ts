import type { ParseArgsOptionsConfig } from 'node:util'

/** What a verb is given: parsed options, the words after the verb, and where to print. */
export interface Call {
  /** Options as `parseArgs` returns them, by long name. */
  options: Record<string, string | boolean | (string | boolean)[] | undefined>
  words: string[]
  /** The folder with the database and the built masters. */
  dataDir: string
  json: boolean
  /** For people, on stdout; silent under `--json`. */
  say(line: string): void
  /** The one JSON document, on stdout; silent without `--json`. */
  answer(document: unknown): void
  /** One plain sentence on stderr. */
  complain(sentence: string): void
  /** Aborted by SIGINT and SIGTERM. */
  signal: AbortSignal
}

export interface Verb {
  name: string
  /** One line in the list of verbs. */
  summary: string
  /** The lines that `--help` prints. */
  usage: string
  options: ParseArgsOptionsConfig
  /** @returns the exit code: 0 done, 1 something was refused or is missing, 2 unusable arguments */
  run(call: Call): Promise<number>
}

/** Arguments that cannot be used: one sentence, exit code 2. */
export class UsageError extends Error {
  override name = 'UsageError'
}
