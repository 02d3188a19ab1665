import type { UndoStep } from '../../../contract/index.ts'
import { openEngine } from '../../../engine/open.ts'
import { momentInWords } from '../moment.ts'
import { UsageError, type Verb } from '../verb.ts'
import { wrap } from '../words.ts'

export const undo: Verb = {
  name: 'undo',
  summary: 'what can be taken back, and take it back',
  usage: [
    'usage: nightshelf undo [--json]          what was done to masters, rigs and frames in the last 30 days, newest first',
    '       nightshelf undo ID [--json]       take that step back, by the number that "undo" shows',
    '       nightshelf undo last [--json]     take the newest back that was not yet',
  ].join('\n'),
  options: {},
  run: async ({ words, dataDir, say, answer }) => {
    const [which, ...more] = words
    if (more.length || (which !== undefined && which !== 'last' && !/^[1-9]\d{0,14}$/.test(which)))
      throw new UsageError('Say which step, by the number that "undo" shows: undo ID, or undo last.')
    const engine = await openEngine({ dataDir })
    try {
      if (which === undefined) {
        const document = await engine.ask('undoSteps', {})
        answer(document)
        say(document.steps.length ? document.steps.map(tell).join('\n') : 'There is nothing to take back.')
        return 0
      }
      const document = await engine.ask('undo', which === 'last' ? {} : { id: Number(which) })
      answer(document)
      say(tell(document.step))
      return 0
    } finally {
      await engine.close()
    }
  },
}

const tell = ({ id, at, text, undoneAt }: UndoStep) =>
  wrap(`${id}  ${momentInWords(at)}${undoneAt ? ', taken back' : ''}: ${text}`, '')

/** What a verb says after a step that can be taken back. */
export const sayStep = (step: number | null | undefined): string =>
  step == null ? 'That is what was said already.' : `Said. "nightshelf undo ${step}" takes it back.`
