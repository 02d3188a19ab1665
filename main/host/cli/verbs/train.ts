import {
  SCOPES,
  type Answer,
  type LoggedChange,
  type Scope,
  type Shortfall,
  type TrainChange,
} from '../../../contract/index.ts'
import { openEngine, type Engine } from '../../../engine/open.ts'
import { sayCount, saySettings } from '../../../match/wording.ts'
import { momentInWords, readMoment } from '../moment.ts'
import { UsageError, type Call, type Verb } from '../verb.ts'
import { duration, wrap } from '../words.ts'

const usage = [
  'usage: nightshelf train [--json]                           the log of train changes, and what headers hint at',
  '       nightshelf train log TEXT [options] [--json]        the train was touched: its flats belong to what was before',
  '       nightshelf train undo ID [--json]                   take a change back',
  '       nightshelf train confirm ID [TEXT] [--scope S]      log what headers hint at, in their words or in yours',
  '       nightshelf train dismiss ID                         it was no change: it is not offered again',
  '       nightshelf train close [--rig R] [--look] [--json]  take the rig apart: the last look, then the epoch closes',
  '',
  '  --rig R      which rig; may be left out while there is only one',
  `  --scope S    what was touched: ${SCOPES.join(', ')}; train where left out, filter where --filter is given`,
  '  --filter F   the filter that was touched',
  '  --at T       when, like 2026-11-20T22:15 (by this machine’s clock where no zone is written); now where left out',
  '  --look       only look what would be lost; nothing is closed',
].join('\n')

export const train: Verb = {
  name: 'train',
  summary: 'log that the train was touched, or that the rig is taken apart',
  usage,
  options: {
    rig: { type: 'string' },
    scope: { type: 'string' },
    filter: { type: 'string' },
    at: { type: 'string' },
    look: { type: 'boolean' },
  },
  run: async (call) => {
    const act = actionOf(call)
    const engine = await openEngine({ dataDir: call.dataDir })
    try {
      await act(engine)
      return 0
    } finally {
      await engine.close()
    }
  },
}

type Action = (engine: Engine) => Promise<void>

function actionOf(call: Call): Action {
  const [what, ...words] = call.words
  if (what === undefined) return (allow(call), list(call))
  if (what === 'log') return log(call, words)
  if (what === 'undo') return undo(call, words)
  if (what === 'close') return close(call, words)
  if (what === 'confirm') return confirm(call, words)
  if (what === 'dismiss') return dismiss(call, words)
  throw new UsageError(
    'Say what to do: train log TEXT, train undo ID, train confirm ID, train dismiss ID, or train close.',
  )
}

/** Options that mean nothing here are a mistake, and a mistake may be about the wrong rig. */
function allow({ options, words }: Call, ...allowed: string[]): void {
  const other = Object.keys(options).find((option) => option !== 'json' && !allowed.includes(option))
  if (other) throw new UsageError(`--${other} means nothing to "train${words[0] ? ` ${words[0]}` : ''}".`)
}

function list({ say, answer }: Call): Action {
  return async (engine) => {
    const { changes } = await engine.ask('trainChanges', {})
    const { suggestions } = await engine.ask('suggestedChanges', {})
    answer({ changes, suggestions })
    say(changes.length ? changes.map(tellChange).join('\n') : 'No train change is logged.')
    if (suggestions.length)
      say(
        [
          '\nHeaders hint at (train confirm ID logs it, train dismiss ID forgets it)',
          ...suggestions.map(tellHint),
        ].join('\n'),
      )
  }
}

const tellHint = ({ id, rig, at, text }: Answer<'suggestedChanges'>['suggestions'][number]) =>
  wrap(`${id}  ${rig}, ${momentInWords(at)}: ${text}`, '  ')

function confirm(call: Call, [id, ...words]: string[]): Action {
  allow(call, 'scope')
  if (!id) throw new UsageError('Say which hint, by what "train" shows before it.')
  const scope = readScope(call.options.scope as string | undefined)
  const text = words.join(' ').trim() || undefined
  return async (engine) => {
    const { change } = await engine.ask('confirmChange', { id, text, scope })
    call.answer(change)
    call.say([tellChange(change), ...tellLosing(change.losing, 'Lights before it still need')].join('\n\n'))
  }
}

function dismiss(call: Call, [id, ...rest]: string[]): Action {
  allow(call)
  if (!id || rest.length) throw new UsageError('Say which hint, by what "train" shows before it.')
  return async (engine) => {
    await engine.ask('dismissChange', { id })
    call.answer({ id, dismissed: true })
    call.say('It is not offered again.')
  }
}

function readScope(text: string | undefined): Scope | undefined {
  if (text !== undefined && !SCOPES.includes(text as Scope))
    throw new UsageError(`--scope is one of ${SCOPES.join(', ')}, not "${text}".`)
  return text as Scope | undefined
}

function log(call: Call, words: string[]): Action {
  allow(call, 'rig', 'scope', 'filter', 'at')
  const { options, say, answer } = call
  const text = words.join(' ').trim()
  if (!text) throw new UsageError('Say what was changed: train log "filter cleaned".')
  const filter = options.filter as string | undefined
  const scope = readScope(options.scope as string | undefined) ?? (filter === undefined ? 'train' : 'filter')
  const at = readMoment('--at', options.at as string | undefined)
  return async (engine) => {
    const rig = options.rig as string | undefined
    const { change } = await engine.ask('logTrainChange', { text, rig, scope, filter, at })
    answer(change)
    say([tellChange(change), ...tellLosing(change.losing, 'Lights before it still need')].join('\n\n'))
  }
}

function undo(call: Call, [word, ...rest]: string[]): Action {
  allow(call)
  if (!word || rest.length || !/^\d+$/.test(word))
    throw new UsageError('Say which change, by the number that "train" shows.')
  return async (engine) => {
    const { change } = await engine.ask('undoTrainChange', { id: Number(word) })
    call.answer(change)
    call.say(tellChange(change))
  }
}

function close(call: Call, words: string[]): Action {
  allow(call, 'rig', 'look')
  if (words.length) throw new UsageError(`"${words[0]}" is too much: a rig is given with --rig R.`)
  const confirm = call.options.look !== true
  return async (engine) => {
    const { rig, losing, change } = await engine.ask('takeApart', {
      rig: call.options.rig as string | undefined,
      confirm,
    })
    call.answer(change ?? looked(rig, losing))
    const title = change ? tellChange(change) : `Rig ${rig} stands as it did: nothing was closed.`
    const safe = 'Nothing is lost: every light has its flat, and every flat its dark flats.'
    const lost = tellLosing(losing, change ? 'Lost with it' : 'Would be lost with it')
    call.say([title, ...(lost.length ? lost : [safe])].join('\n\n'))
  }
}

/** The document of a last look: a change that was not logged. */
const looked = (rig: string, losing: Shortfall[]): Record<keyof LoggedChange, unknown> => ({
  id: null,
  rig,
  scope: 'train',
  filter: null,
  at: null,
  text: null,
  closes: true,
  undoneAt: null,
  epoch: null,
  losing,
})

function tellChange({ id, rig, scope, filter, at, text, undoneAt }: TrainChange): string {
  const what = { filter: `filter ${filter}`, train: 'whole train', camera: 'camera' }[scope]
  const back = undoneAt ? ', taken back' : ''
  return wrap(`${id}  ${rig}, ${what}, ${momentInWords(at)}${back}: ${text}`, '')
}

function tellLosing(losing: readonly Shortfall[], title: string): string[] {
  if (losing.length === 0) return []
  const rows = losing.map((row) =>
    [
      wrap(`${sayCount(row.count, row.kind)}: ${saySettings(row.settings)}, ${waiting(row)}.`, '  '),
      wrap(row.reason, '    '),
    ].join('\n'),
  )
  return [[title, ...rows].join('\n')]
}

const waiting = (row: Shortfall) => `for ${sayCount(row.lights, 'light')} (${duration(row.lightS)})`
