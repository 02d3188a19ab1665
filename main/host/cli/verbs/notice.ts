import { openEngine } from '../../../engine/open.ts'
import { UsageError, type Verb } from '../verb.ts'

export const notice: Verb = {
  name: 'notice',
  summary: 'mark a notice as seen',
  usage: [
    'usage: nightshelf notice ID acknowledge [--json]',
    '',
    '  ID   as "status" shows it; an acknowledged notice stays open until it no longer holds',
  ].join('\n'),
  options: {},
  run: async ({ words, dataDir, say, answer }) => {
    const [id, what, ...rest] = words
    if (!id || what !== 'acknowledge' || rest.length) throw new UsageError('Say which notice: notice ID acknowledge.')
    const engine = await openEngine({ dataDir })
    try {
      await engine.ask('acknowledgeNotice', { id })
      answer({ id, acknowledged: true })
      say('Seen.')
      return 0
    } finally {
      await engine.close()
    }
  },
}
