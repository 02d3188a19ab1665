import { z } from 'zod'
import {
  LIGHT_SOURCES,
  MASTER_KINDS,
  masterSchema,
  requests,
  SCALES,
  SUBTRACTED,
  type Master,
  type MasterAnswers,
} from '../../../contract/index.ts'
import { openEngine, type Engine } from '../../../engine/open.ts'
import { sayFrames, saySettings } from '../../../match/wording.ts'
import { progressLine } from '../progress.ts'
import { UsageError, type Call, type Verb } from '../verb.ts'
import { count, kindHeadings, wrap } from '../words.ts'
import { readLightSource } from './flats.ts'
import { sayStep } from './undo.ts'

const usage = [
  'usage: nightshelf library [--json]                       list the masters',
  '       nightshelf library add FILE… [options] [--json]   take existing masters in',
  '       nightshelf library verify [--json]                read each file again and compare its hash',
  '       nightshelf library retire ID [--json]             take a master out of matching; its file stays',
  '       nightshelf library restore ID [--json]            and back',
  '       nightshelf library light ID SOURCE [--json]       what lit a flat: panel, sky, screen, other; "header" as headers say',
  '',
  'Options of add fill what the header lacks:',
  `  --kind K          ${MASTER_KINDS.join(' ')} (comes before the header)`,
  '  --camera C        as the lights have it in INSTRUME',
  '  --gain N  --offset N  --temp C  --exposure S  --filter F',
  '  --scale S         adu, or unit where the values go from 0 to 1',
  '  --subtracted S    none, bias or darkFlat: what was taken away before integration',
  '  --frames N        how many frames it was made from',
  '  --light L         what lit a flat: panel, sky, screen or other (comes before the header)',
  '  --copy            copy the file into the data folder; without it the file stays where it is',
  '  --figures         look at the pixels, too, once the masters are taken in: their figures, and what near matches cost',
  '                    (an open window does so by itself)',
  '',
  'A master whose scale or history is not known is taken in and stays unconfirmed: add it again with',
  '--scale and --subtracted to confirm it.',
].join('\n')

export const library: Verb = {
  name: 'library',
  summary: 'the masters: list, add, verify, retire, restore, light',
  usage,
  options: {
    kind: { type: 'string' },
    camera: { type: 'string' },
    gain: { type: 'string' },
    offset: { type: 'string' },
    temp: { type: 'string' },
    exposure: { type: 'string' },
    filter: { type: 'string' },
    scale: { type: 'string' },
    subtracted: { type: 'string' },
    frames: { type: 'string' },
    light: { type: 'string' },
    copy: { type: 'boolean' },
    figures: { type: 'boolean' },
  },
  run: async (call) => {
    const [what = 'list', ...words] = call.words
    const act = actions[what]
    if (!act) throw new UsageError(`library knows no "${what}"; it knows add, verify, retire, restore and light.`)
    const ready = act(words, call)
    const engine = await openEngine({ dataDir: call.dataDir })
    try {
      return await ready(engine)
    } finally {
      await engine.close()
    }
  },
}

/** Reads the words first, so that what cannot be used is refused before anything is opened. */
type Action = (words: string[], call: Call) => (engine: Engine) => Promise<number>

const actions: Record<string, Action> = {
  list,
  add,
  verify,
  retire: changing('retireMaster'),
  restore: changing('restoreMaster'),
  light,
}

function list(_words: string[], { say, answer }: Call) {
  return async (engine: Engine) => {
    const document = requests.library.output.parse(await engine.ask('library', {}))
    answer(document)
    say(tellMasters(document.masters))
    return 0
  }
}

function add(paths: string[], { options, json, say, answer, complain, signal }: Call) {
  if (paths.length === 0) throw new UsageError('library add needs the files of the masters.')
  const answers = readAnswers(options)
  return async (engine: Engine) => {
    const input = { paths, answers, copy: options.copy === true }
    const document = requests.addMasters.output.parse(await engine.ask('addMasters', input))
    answer(document)
    const { added, refused, already = [] } = document
    if (added.length) say(`${count(added.length, 'master', 'masters')} taken in:\n\n${tellMasters(added)}`)
    if (already.length) say(`${count(already.length, 'master was', 'masters were')} in the library already.`)
    const open = added.filter((master) => master.scale === null || master.subtracted === null)
    if (open.length)
      say(
        `${count(open.length, 'stays', 'stay')} unconfirmed until scale and history are known: add again with --scale and --subtracted.`,
      )
    for (const { path, reason, lacks, suggests = {} } of refused) {
      const told = lacks.map((field) => `${optionOf[field]} ${suggests[field] ?? '…'}`)
      complain(`${path}: ${reason}${told.length ? ` Tell it with ${told.join(' ')}.` : ''}`)
    }
    if (options.figures) {
      const progress = progressLine(json)
      await engine.measureMasters({
        signal,
        onProgress: (done, total) => progress.show('Looking at masters', done, total),
      })
      progress.clear()
    } else if (added.some((master) => master.figures === null && master.scale !== null))
      say(
        'Their pixels were not looked at: with --figures, or in an open window, they get figures, and near matches a price.',
      )
    return refused.length ? 1 : 0
  }
}

function light([word, source, ...rest]: string[], { say, answer }: Call) {
  const id = readMaster(word)
  if (!source || rest.length) throw new UsageError('Say what lit it: library light ID panel, sky, screen or other.')
  const told = readLightSource(source)
  return async (engine: Engine) => {
    const document = await engine.ask('setMasterLight', { id, source: told })
    answer(document)
    say(sayStep(document.step))
    return 0
  }
}

/** The options that tell what a header lacks. */
const optionOf: Record<string, string> = {
  kind: '--kind',
  camera: '--camera',
  gain: '--gain',
  offset: '--offset',
  sensorTempC: '--temp',
  exposureS: '--exposure',
  filter: '--filter',
  frames: '--frames',
}

function verify(_words: string[], { say, answer, complain }: Call) {
  return async (engine: Engine) => {
    const document = requests.verifyLibrary.output.parse(await engine.ask('verifyLibrary', {}))
    answer(document)
    say(`${count(document.ok, 'master is', 'masters are')} what ${document.ok === 1 ? 'it was' : 'they were'}.`)
    for (const { path, reason } of document.damaged) complain(`${path}: ${reason}`)
    return document.damaged.length ? 1 : 0
  }
}

function changing(request: 'retireMaster' | 'restoreMaster'): Action {
  return ([word, ...rest], { say, answer }) => {
    const id = readMaster(word, ...rest)
    return async (engine) => {
      const document = z.object({ master: masterSchema }).parse(await engine.ask(request, { id }))
      answer(document)
      say(tellMasters([document.master]))
      return 0
    }
  }
}

function readMaster(word?: string, ...rest: string[]): number {
  if (!word || rest.length || !/^\d+$/.test(word))
    throw new UsageError('Say which master, by the number that "library" shows.')
  return Number(word)
}

type Options = Call['options']

function readAnswers(options: Options): MasterAnswers {
  const text = (name: string) => options[name] as string | undefined
  const answers: Record<string, unknown> = {
    kind: oneOf('kind', text('kind'), MASTER_KINDS),
    camera: text('camera'),
    gain: level(text('gain')),
    offset: level(text('offset')),
    tempC: number('temp', text('temp')),
    exposureS: number('exposure', text('exposure')),
    filter: text('filter'),
    scale: oneOf('scale', text('scale'), SCALES),
    subtracted: oneOf('subtracted', text('subtracted'), SUBTRACTED),
    frames: number('frames', text('frames')),
    lightSource: oneOf('light', text('light'), LIGHT_SOURCES),
  }
  if (answers.frames !== undefined && !(Number.isInteger(answers.frames) && (answers.frames as number) > 0))
    throw new UsageError('--frames takes a whole number.')
  return Object.fromEntries(Object.entries(answers).filter(([, value]) => value !== undefined)) as MasterAnswers
}

function oneOf(name: string, text: string | undefined, words: readonly string[]): string | undefined {
  if (text !== undefined && !words.includes(text))
    throw new UsageError(`--${name} is one of ${words.join(', ')}, not "${text}".`)
  return text
}

function number(name: string, text: string | undefined): number | undefined {
  if (text === undefined) return undefined
  const value = Number(text.replace(',', '.'))
  if (text.trim() === '' || !Number.isFinite(value)) throw new UsageError(`--${name} takes a number, not "${text}".`)
  return value
}

/** Gain and offset are numbers for most cameras, labels for some. */
const level = (text: string | undefined) => (text !== undefined && /^-?\d+(\.\d+)?$/.test(text) ? Number(text) : text)

/** Masters as a person reads them: by camera and kind, one line each. */
export function tellMasters(masters: readonly Master[]): string {
  if (masters.length === 0) return 'The library is empty: take masters in with "nightshelf library add FILE…".'
  const groups = Map.groupBy(
    masters,
    (master) => `${master.camera ?? 'Camera unknown'}: ${kindHeadings[master.kind].toLowerCase()}`,
  )
  return [...groups].map(([title, group]) => [title, ...group.map(tellMaster)].join('\n')).join('\n\n')
}

function tellMaster(master: Master): string {
  const age = master.ageDays === null ? 'age unknown' : `${count(master.ageDays, 'day', 'days')} old`
  const open = master.scale === null || master.subtracted === null ? ', unconfirmed' : ''
  const state = master.state === 'ready' ? open : `, ${master.state}`
  const lit = master.lightSource ? `, lit by: ${master.lightSource}` : ''
  return [
    wrap(
      `${String(master.id).padStart(4)}  ${saySettings(master)}, ${sayFrames(master.frames)}, ${age}${lit}${state}`,
      '  ',
    ),
    `        ${master.path}`,
  ].join('\n')
}
