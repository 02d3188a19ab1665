import { resolve } from 'node:path'
import { openEngine } from '../../../engine/open.ts'
import { progressLine } from '../progress.ts'
import { UsageError, type Verb } from '../verb.ts'

export const move: Verb = {
  name: 'move',
  summary: 'move log and masters to another folder',
  usage: [
    'usage: nightshelf move DIR [--json]',
    '',
    '  DIR   an empty folder of this machine, or one that is not there yet; never one on a network',
    '',
    '  Copies log, masters and backups, reads every copy again, and only then uses the new folder. The old one keeps its files',
    '  until you delete them, and says where they went, so that whatever was started with it finds them.',
  ].join('\n'),
  options: {},
  run: async ({ words, dataDir, json, say, answer, complain, signal }) => {
    if (words.length !== 1) throw new UsageError('Say where to: move DIR.')
    const to = resolve(words[0])
    const progress = progressLine(json)
    const engine = await openEngine({ dataDir })
    const from = engine.dataDir
    try {
      const ended = new Promise<string | null>((resolve) => {
        engine.listen((event) => {
          if (event.event !== 'progress' || event.job !== 'move') return
          progress.show('Copying', event.done, event.total)
          if (event.state === 'stopped' || event.state === 'failed') resolve(event.text)
        })
        void engine.leaving.then(() => resolve(null))
      })
      const stop = () => void engine.ask('stopMove', {})
      await engine.ask('moveDataFolder', { path: to })
      signal.addEventListener('abort', stop, { once: true })
      const trouble = await ended
      if (trouble !== null) return (complain(trouble), 1)
    } finally {
      progress.clear()
      await engine.close()
    }
    if (engine.lastWord?.state === 'failed') return (complain(engine.lastWord.text ?? 'It was not moved.'), 1)
    answer({ from, to })
    say(`Log and masters are in ${to} now. ${from} may be cleared (Settings, "Data folder").`)
    return 0
  },
}
