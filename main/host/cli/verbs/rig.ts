import { resolve } from 'node:path'
import { requests, type Ask, type Rig } from '../../../contract/index.ts'
import { openEngine, type Engine } from '../../../engine/open.ts'
import { momentInWords, readMoment } from '../moment.ts'
import { UsageError, type Call, type Verb } from '../verb.ts'
import { count, wrap } from '../words.ts'

const usage = [
  'usage: nightshelf rig [--json]                             what stands before which camera since when',
  '       nightshelf rig set NAME [options] [--json]          say what a rig is; it is made if it is new',
  '       nightshelf rig rename NAME NEW [--json]',
  '       nightshelf rig remove NAME [--json]                 its frames and train changes stay',
  '',
  '  --folder DIR     the folder that its frames come into',
  '  --camera C       it speaks only for frames of this camera, as headers name it (two cameras in one folder)',
  '  --body B         the one camera body, where headers have no serial number',
  '  --train T        the train by a name of yours',
  '  --filter F       the filter in the drawer: counts where the header names none',
  '  --site LAT,LON   degrees, north and east positive; counts where the header names none',
  '  --since T        from this moment on, like 2026-11-20T22:15 (by this machine’s clock where no zone is written);',
  '                   else what was never told holds from the beginning, and what was told otherwise from now on',
  '  --forget FIELD   camera, body, train, filter or site: not known any more; may stand several times',
].join('\n')

export const rig: Verb = {
  name: 'rig',
  summary: 'tell what stands before which camera since when',
  usage,
  options: {
    folder: { type: 'string' },
    camera: { type: 'string' },
    body: { type: 'string' },
    train: { type: 'string' },
    filter: { type: 'string' },
    site: { type: 'string' },
    since: { type: 'string' },
    forget: { type: 'string', multiple: true },
  },
  run: async (call) => {
    const act = actionOf(call)
    const engine = await openEngine({ dataDir: call.dataDir })
    try {
      const note = await act(engine)
      const document = requests.rigs.output.parse(await engine.ask('rigs', {}))
      call.answer(document)
      call.say([note, tell(document.rigs)].filter(Boolean).join('\n\n'))
      return 0
    } finally {
      await engine.close()
    }
  },
}

/** What is to be done; says in words what came of it. */
type Action = (engine: Engine) => Promise<string>

function actionOf({ words, options }: Call): Action {
  const [what, name, ...rest] = words
  const given = Object.keys(options).filter((option) => option !== 'json')
  if (what !== 'set' && given.length) throw new UsageError(`--${given[0]} belongs to "rig set NAME".`)
  if (what === undefined) return async () => ''
  if (!name) throw new UsageError(`Say which rig: rig ${what} NAME.`)
  if (what === 'set') {
    if (rest.length) throw new UsageError(`"${rest[0]}" is too much: a name of several words goes in quotes.`)
    const told = readTold(name, options)
    return async (engine) => sayDescribed((await engine.ask('setRig', told)).frames)
  }
  if (what === 'rename' && rest.length === 1)
    return async (engine) => (await engine.ask('renameRig', { name, to: rest[0] }), '')
  if (what === 'remove' && !rest.length)
    return async (engine) => sayDescribed((await engine.ask('removeRig', { name })).frames)
  throw new UsageError('Say what to do: rig set NAME, rig rename NAME NEW, or rig remove NAME.')
}

const sayDescribed = (frames: number) =>
  frames ? `${count(frames, 'logged frame is', 'logged frames are')} understood anew.` : ''

const forgettable = ['camera', 'body', 'train', 'filter', 'site'] as const

function readTold(name: string, options: Call['options']): Ask<'setRig'> {
  const text = (option: string) => options[option] as string | undefined
  const told: Ask<'setRig'> = { name, since: readMoment('--since', text('since')) }
  for (const field of ['camera', 'body', 'train', 'filter'] as const) {
    const value = text(field)
    if (value?.trim() === '')
      throw new UsageError(`--${field} needs a word; --forget ${field} takes back what was told.`)
    if (value !== undefined) told[field] = value
  }
  const folder = text('folder')
  if (folder !== undefined) told.folder = resolve(folder)
  told.site = readSite(text('site'))
  for (const field of (options.forget ?? []) as string[]) {
    const known = forgettable.find((one) => one === field)
    if (!known) throw new UsageError(`--forget takes one of ${forgettable.join(', ')}, not "${field}".`)
    if (told[known] !== undefined) throw new UsageError(`--${known} and --forget ${known} cannot both be meant.`)
    told[known] = null
  }
  return told
}

function readSite(text: string | undefined): Ask<'setRig'>['site'] {
  if (text === undefined) return undefined
  const [lat, long, ...rest] = text.split(',').map((part) => (part.trim() === '' ? NaN : Number(part)))
  if (rest.length || !(Math.abs(lat) <= 90) || !(Math.abs(long) <= 180))
    throw new UsageError(`--site takes latitude and longitude in degrees, like 50.1,8.2, not "${text}".`)
  return { name: null, latDeg: lat, longDeg: long }
}

function tell(rigs: readonly Rig[]): string {
  if (rigs.length === 0)
    return 'There is no rig yet: a watched folder makes one, and so does "nightshelf rig set NAME --folder DIR".'
  return rigs.map(tellRig).join('\n\n')
}

function tellRig(rig: Rig): string {
  const taken = rig.frames
    ? `${count(rig.frames, 'frame', 'frames')}${rig.lastFrameAt ? `, the last on ${momentInWords(rig.lastFrameAt)}` : ''}.`
    : 'No frames yet.'
  const epoch = rig.epochSince
    ? `Train untouched since ${momentInWords(rig.epochSince)}.`
    : 'No change of the train is logged.'
  const spans = rig.spans.length > 1 ? rig.spans.toReversed() : rig.spans
  return [
    rig.name,
    ...spans.map((span) => wrap(`${sayStanding(span)}${saySince(span.since, rig.spans.length)}`, '  ')),
    wrap(`${taken} ${epoch}`, '  '),
  ].join('\n')
}

const saySince = (since: string | null, spans: number) =>
  since ? `, since ${momentInWords(since)}` : spans > 1 ? ', before that' : ''

function sayStanding({ folder, camera, body, train, filter, site }: Rig['spans'][number]): string {
  const parts = [folder ?? 'no folder']
  if (camera) parts.push(`camera ${camera}`)
  if (body) parts.push(`body ${body}`)
  if (train) parts.push(`train ${train}`)
  if (filter) parts.push(`${filter} in the drawer`)
  if (site) parts.push(`site ${site.name ? `${site.name} ` : ''}${site.latDeg}, ${site.longDeg}`)
  return parts.join(', ')
}
