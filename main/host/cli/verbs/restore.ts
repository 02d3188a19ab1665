import { resolve } from 'node:path'
import { describeBackups } from '../../../../db/backup.ts'
import { backupsFolder } from '../../../engine/backups.ts'
import { checkInThread } from '../../../engine/data-folder/check-thread.ts'
import { followMoves } from '../../../engine/data-folder/follow.ts'
import { prepareRestore } from '../../../engine/data-folder/restore.ts'
import { UsageError, type Verb } from '../verb.ts'

export const restore: Verb = {
  name: 'restore',
  summary: 'put a copy of the log in its place',
  usage: [
    'usage: nightshelf restore FILE [--json]',
    '',
    '  FILE   a copy as "backup" made it: a path, or a name of "backup --list"',
    '',
    '  The copy is checked first: whole, and of a version that this program knows. The log that is there now is kept beside the',
    '  copies and can be restored in turn. Masters stay as files; frames that landed since are logged again from their folders.',
    '  Where a window is open on this data folder, restore from its Settings instead.',
  ].join('\n'),
  options: {},
  run: async ({ words, dataDir, say, answer }) => {
    if (words.length !== 1) throw new UsageError('Say which copy: restore FILE. "backup --list" shows them.')
    const folder = followMoves(dataDir)
    const named = describeBackups(backupsFolder(folder)).find(({ name }) => name === words[0])
    const from = named?.path ?? resolve(words[0])
    // Not through an engine: the log may be damaged, which is why somebody restores.
    const prepared = await prepareRestore(folder, from, checkInThread)
    const aside = prepared.putInPlace(new Date())
    answer({ restored: from, aside })
    say(`Restored from ${from}.`)
    if (aside) say(`The log before it is kept as ${aside}.`)
    return 0
  },
}
