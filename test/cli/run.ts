import type { Call, Verb } from '../../main/host/cli/verb.ts'

/** Runs one verb on a data folder, and keeps what it prints. */
export async function run(verb: Verb, dataDir: string, words: string[], options: Call['options'] = {}) {
  const said: string[] = []
  let document: unknown = null
  const code = await verb.run({
    options,
    words,
    dataDir,
    json: true,
    say: (line) => void said.push(line),
    answer: (one) => void (document = one),
    complain: (line) => void said.push(line),
    signal: new AbortController().signal,
  })
  return { code, document: document as unknown as Record<string, unknown>, said: said.join('\n') }
}
