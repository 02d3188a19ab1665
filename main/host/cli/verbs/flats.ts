import { resolve } from 'node:path'
import { LIGHT_SOURCES, Refusal, type Answer, type LightSource, type Run } from '../../../contract/index.ts'
import { openEngine, type Engine } from '../../../engine/open.ts'
import { sayCount, saySettings } from '../../../match/wording.ts'
import { UsageError, type Call, type Verb } from '../verb.ts'
import { wrap } from '../words.ts'
import { readNight } from './status.ts'
import { sayStep } from './undo.ts'

export const flats: Verb = {
  name: 'flats',
  summary: 'what the flats of a night are at and what to do about it; say what lit them',
  usage: [
    'usage: nightshelf flats [--night DATE] [--json]',
    '       nightshelf flats light SOURCE [--night DATE] [--filter F] [--rig R] [--json]',
    '       nightshelf flats light SOURCE FILE… [--json]',
    '',
    '  flats          level, balance, floor, clipping, drift and cooler of each run, in figures, and what to turn',
    '  flats light    what lit the flats of a night, or these: panel, sky, screen or other; "header": as headers say again.',
    '                 Masters made of them follow; "undo" takes it back.',
    '',
    '  --night DATE   the night that began on this date; else the one that "status" shows',
    '  --filter F  --rig R   only runs of this filter, of this rig',
    '',
    'Flats whose pixels were not looked at yet have no level: "log DIR --figures", or an open window, does that.',
  ].join('\n'),
  options: { night: { type: 'string' }, filter: { type: 'string' }, rig: { type: 'string' } },
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

function actionOf(call: Call): (engine: Engine) => Promise<void> {
  const [what, source, ...files] = call.words
  const { filter, rig } = call.options as Partial<Record<string, string>>
  if (what === undefined && (filter ?? rig) === undefined) return (engine) => list(engine, call)
  if (what !== 'light' || !source)
    throw new UsageError('Say flats, flats light SOURCE, or flats light SOURCE FILE…: see flats --help.')
  const told = readLightSource(source)
  const night = readNight(call.options.night as string | undefined)
  if (files.length && (night ?? filter ?? rig) !== undefined)
    throw new UsageError('Name files, or a night with --filter and --rig, not both.')
  return async (engine) => {
    const frames = files.length
      ? files.map((file) => frameAt(engine, resolve(file)))
      : flatsOf((await engine.ask('tonight', { night })).runs, { filter, rig })
    const document = await engine.ask('setLightSource', { frames, source: told })
    call.answer(document)
    call.say(`${sayCount(frames.length, 'flat')}: ${sayStep(document.step)}`)
  }
}

/** "header": as headers say again. */
export function readLightSource(text: string): LightSource | null {
  const source = LIGHT_SOURCES.find((one) => one === text)
  if (!source && text !== 'header')
    throw new UsageError(`What lit a flat is one of ${LIGHT_SOURCES.join(', ')}, or header, not "${text}".`)
  return source ?? null
}

function frameAt(engine: Engine, path: string): number {
  const id = engine.frameAt(path)
  if (id === null) throw new Refusal(`${path} is not in the log: log its folder first.`)
  return id
}

const isNamed = (value: string | number | null, wanted: string | undefined) =>
  wanted === undefined || String(value).trim().toUpperCase() === wanted.trim().toUpperCase()

function flatsOf(runs: readonly Run[], { filter, rig }: Partial<Record<string, string>>): number[] {
  const own = runs.filter((run) => run.kind === 'flat' && isNamed(run.filter, filter) && isNamed(run.rig, rig))
  if (own.length === 0) throw new Refusal('No such flats are logged of that night: look with "status" which there are.')
  return own.flatMap((run) => run.frameIds)
}

async function list(engine: Engine, { options, answer, say }: Call): Promise<void> {
  const night = readNight(options.night as string | undefined)
  const document = await engine.ask('flatsNow', { night })
  const { runs } = await engine.ask('tonight', { night: document.night })
  answer(document)
  const told = document.flats.map((flat) =>
    tell(
      flat,
      runs.find((run) => run.id === flat.run)!,
    ),
  )
  say(told.length ? told.join('\n\n') : 'No flats are logged of that night.')
}

function tell({ points, level, lightSource }: Answer<'flatsNow'>['flats'][number], run: Run): string {
  const lit = lightSource ? `, lit by: ${lightSource}` : ''
  return [
    wrap(`${sayCount(run.frames, 'flat')}: ${saySettings(run)}${run.rig ? `, ${run.rig}` : ''}${lit}`, ''),
    ...(level ? [] : ['  Their pixels were not looked at yet: "log DIR --figures" does that.']),
    ...points.map(({ text, todo, right }) => wrap(`${right ? ' ' : '!'} ${text}${todo ? ` ${todo}` : ''}`, '  ')),
  ].join('\n')
}
