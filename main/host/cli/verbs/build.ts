import { MASTER_KINDS, requests, type BuildOutcome, type MasterKind } from '../../../contract/index.ts'
import { openEngine, type Engine } from '../../../engine/open.ts'
import { sayKind, saySettings } from '../../../match/wording.ts'
import { progressLine } from '../progress.ts'
import { UsageError, type Call, type Verb } from '../verb.ts'
import { count, wrap } from '../words.ts'
import { tellMasters } from './library.ts'

export const build: Verb = {
  name: 'build',
  summary: 'integrate raw frames into masters',
  usage: [
    'usage: nightshelf build [--kind K] [--least N] [--json]',
    '',
    '  Integrates each complete group of logged raw frames into a master, dark flats before the flats that need them,',
    '  and takes it into the library. Frames that do not belong are left out and named. The raw files are not touched.',
    '',
    `  --kind K    only masters of this kind: ${MASTER_KINDS.join(' ')}`,
    '  --least N   build from N frames on (10, or as set)',
    '',
    'Exit code 1 if a group waits for something; what could be built is built all the same.',
  ].join('\n'),
  options: { kind: { type: 'string' }, least: { type: 'string' } },
  run: async (call) => {
    const { options, words, dataDir, json, complain, answer } = call
    if (words.length > 0) throw new UsageError(`build takes no files, but "${words[0]}" was given: log them first.`)
    const ask = { kind: readKind(options.kind), least: readLeast(options.least), wait: true }
    const progress = progressLine(json)
    const engine = await openEngine({ dataDir })
    try {
      const outcome = await run(engine, ask, call, progress)
      progress.clear()
      answer({ built: outcome.built, waiting: outcome.waiting })
      tell(outcome, call)
      for (const { kind, settings, reason } of outcome.waiting)
        complain(`${sayKind(kind)} ${saySettings(settings)}: ${reason}`)
      return outcome.waiting.length ? 1 : 0
    } finally {
      progress.clear()
      await engine.close()
    }
  },
}

type Ask = { kind: MasterKind | undefined; least: number | undefined; wait: boolean }

async function run(
  engine: Engine,
  ask: Ask,
  { signal }: Call,
  progress: ReturnType<typeof progressLine>,
): Promise<BuildOutcome> {
  const stopListening = engine.listen((event) => {
    if (event.event === 'progress') progress.show(event.title, Math.floor(event.done), event.total)
  })
  const stop = () => void engine.ask('stopBuild', {})
  signal.addEventListener('abort', stop)
  try {
    const { outcome } = requests.startBuild.output.parse(await engine.ask('startBuild', ask))
    return outcome!
  } finally {
    signal.removeEventListener('abort', stop)
    stopListening()
  }
}

function tell({ built, waiting }: BuildOutcome, { say }: Call): void {
  if (built.length === 0 && waiting.length === 0)
    return say('There are no raw frames that wait to be built: log a folder with darks or flats first.')
  if (built.length === 0) return say('Nothing was built.')
  say(`${count(built.length, 'master', 'masters')} built:\n\n${tellMasters(built)}`)
  for (const { path, rejected } of built) {
    if (rejected.length === 0) continue
    say(`\nLeft out of ${path}:`)
    for (const frame of rejected) say(wrap(`${frame.path}: ${frame.reason}`, '  '))
  }
}

function readKind(value: unknown): MasterKind | undefined {
  if (value === undefined) return undefined
  const kind = MASTER_KINDS.find((one) => one === value)
  if (!kind) throw new UsageError(`--kind is one of ${MASTER_KINDS.join(', ')}, not "${String(value)}".`)
  return kind
}

function readLeast(value: unknown): number | undefined {
  if (value === undefined) return undefined
  const least = Number(value)
  if (!Number.isInteger(least) || least < 1)
    throw new UsageError(`--least takes a whole number from 1 on, not "${String(value)}".`)
  return least
}
