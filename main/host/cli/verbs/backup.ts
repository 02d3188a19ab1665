import { openEngine } from '../../../engine/open.ts'
import { UsageError, type Verb } from '../verb.ts'
import { megabytes } from '../words.ts'

export const backup: Verb = {
  name: 'backup',
  summary: 'copy the log, checked; list the copies',
  usage: [
    'usage: nightshelf backup [FILE] [--json]',
    '       nightshelf backup --list [--json]',
    '',
    '  Copies the log (not the masters) while others may write to it, and reads the whole copy to check it.',
    '',
    '  FILE     where to; it must not be there yet. Without it the copy is one of the seven that are kept in the data folder',
    '  --list   the copies that can be restored, newest first',
  ].join('\n'),
  options: { list: { type: 'boolean' } },
  run: async ({ words, options, dataDir, say, answer }) => {
    if (words.length > 1 || (options.list && words.length)) throw new UsageError('backup takes one file at most.')
    const engine = await openEngine({ dataDir })
    try {
      if (options.list) {
        const told = await engine.ask('backups', {})
        answer(told)
        if (!told.backups.length) say('There is no copy yet: "backup" makes one.')
        for (const { name, bytes, aside } of told.backups)
          say(`${name}  ${megabytes(bytes)}${aside ? '  put aside by a restore' : ''}`)
        return 0
      }
      const made = await engine.ask('backUp', { path: words[0] })
      answer(made)
      say(`Copied and checked: ${made.path}, ${megabytes(made.bytes)}.`)
      return 0
    } finally {
      await engine.close()
    }
  },
}
