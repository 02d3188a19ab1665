import { existsSync } from 'node:fs'
import { resolve } from 'node:path'
import { Refusal } from '../../../contract/index.ts'
import { openEngine } from '../../../engine/open.ts'
import { UsageError, type Verb } from '../verb.ts'
import { count } from '../words.ts'

export const exportNight: Verb = {
  name: 'export',
  summary: "write a night's log as a table (CSV)",
  usage: [
    'usage: nightshelf export FILE.csv [--night D] [--json]',
    '',
    '  FILE        where to; it must not be there yet',
    '  --night D   the night that began on this date; the current one, or the newest logged, by default',
  ].join('\n'),
  options: { night: { type: 'string' } },
  run: async ({ words, options, dataDir, say, answer }) => {
    if (words.length !== 1) throw new UsageError('Say which file: export FILE.csv.')
    const out = resolve(words[0])
    if (existsSync(out)) throw new Refusal(`"${out}" is there already: choose another name.`)
    const engine = await openEngine({ dataDir })
    try {
      const asked = { night: options.night as string | undefined, path: out }
      const { night, frames } = await engine.ask('writeNightLog', asked)
      answer({ out, night, frames })
      say(`${count(frames, 'frame', 'frames')} of the night of ${night}: ${out}`)
      return 0
    } finally {
      await engine.close()
    }
  },
}
