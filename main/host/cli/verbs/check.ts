import { requests, type CheckFinding, type DarkCheckAnswer, type FlatCheckAnswer } from '../../../contract/index.ts'
import { openEngine, type Engine } from '../../../engine/open.ts'
import { UsageError, type Call, type Verb } from '../verb.ts'
import { wrap } from '../words.ts'
import { readId } from './ids.ts'

export const check: Verb = {
  name: 'check',
  summary: 'one fresh flat or dark against the master that it should match',
  usage: [
    'usage: nightshelf check flat FILE [--master ID] [--json]',
    '       nightshelf check dark FILE [--master ID] [--json]',
    '',
    '  check flat   the fresh flat less its dark flat, over the master: holds if no local change is over 1 % and 95 % of the',
    '               frame is within 0.5 % (or what Settings says). Brightness, colour and tilt of the panel',
    '               are told, and do not count.',
    '  check dark   level, glow, what hot pixels gather, and new hot pixels, in noises of one frame.',
    '',
    '  A check that holds proves the master from that night on, and admits a flat from before a train change.',
    '  --master ID  hold it against this one, as "library" numbers them; if that one should not match, nothing is proven',
    '',
    'Exit code 1 if it does not hold, or no master should match. The frame is only read; the map of the changes is a picture (PNG).',
  ].join('\n'),
  options: { master: { type: 'string' } },
  run: async (call) => {
    const { options, words, dataDir, answer, say } = call
    const [what, path, ...more] = words
    if (what !== 'flat' && what !== 'dark')
      throw new UsageError(
        what ? `check knows no "${what}"; it knows flat and dark.` : 'Say what: check flat FILE, or check dark FILE.',
      )
    if (!path || more.length) throw new UsageError(`check ${what} takes one file.`)
    const ask = { path, master: readId('--master', options.master) }
    const engine = await openEngine({ dataDir })
    try {
      const document = await run(engine, what, ask, call)
      const { path: map } = await engine.ask('file', { of: 'check', id: document.id, view: 'map.png' })
      answer({ ...document, map })
      say(tell(document))
      say(`  map of the changes: ${map}`)
      return document.holds ? 0 : 1
    } finally {
      await engine.close()
    }
  },
}

type Ask = { path: string; master: number | undefined }

async function run(
  engine: Engine,
  what: 'flat' | 'dark',
  ask: Ask,
  { signal }: Call,
): Promise<FlatCheckAnswer | DarkCheckAnswer> {
  const stop = () => void engine.close()
  signal.addEventListener('abort', stop)
  try {
    return what === 'flat'
      ? requests.checkFlat.output.parse(await engine.ask('checkFlat', ask))
      : requests.checkDark.output.parse(await engine.ask('checkDark', ask))
  } finally {
    signal.removeEventListener('abort', stop)
  }
}

function tell(document: FlatCheckAnswer | DarkCheckAnswer): string {
  const lines = [`Master ${document.master}: ${document.text}`, ...document.findings.map(tellFinding)]
  if (document.kind === 'flat') lines.push(...tellFlat(document))
  else lines.push(...tellDark(document))
  if (document.forced)
    lines.push(wrap('This master was chosen by hand and should not match: nothing is proven by it.', '  '))
  return lines.join('\n')
}

const percent = (fraction: number) => `${(100 * fraction).toFixed(2)} %`

function tellFlat({ figures, findings }: FlatCheckAnswer): string[] {
  const { tilt, withinFraction, cellRatio, blockPx, darkFlat } = figures
  const told = findings.some(({ what }) => what === 'tilt')
    ? []
    : [`  the panel hangs ${percent(tilt)} askew from corner to corner`]
  return [
    ...told,
    `  ${percent(withinFraction)} of the frame within the limit, in blocks of ${blockPx} px; ${cellRatio.map((r) => r.toFixed(3)).join(' ')} of the master's light`,
    `  dark flat subtracted: master ${darkFlat}`,
  ]
}

function tellDark({ figures: f }: DarkCheckAnswer): string[] {
  return [
    `  level ${f.pedestalAdu.toFixed(2)} ADU off, noise of one frame ${f.noiseAdu.toFixed(1)} ADU`,
    ...(f.glowRatio === null
      ? []
      : [`  glow ${f.glowRatio.toFixed(3)} of the master's, which peaks at ${f.glowPeakAdu!.toFixed(0)} ADU`]),
    ...(f.signalRatio === null ? [] : [`  hot pixels gathered ${f.signalRatio.toFixed(3)} of the master's`]),
    `  hot pixels: ${f.hotKept} kept, ${f.hotGone} gone, ${f.hotNew} new (particle hits among them)`,
  ]
}

const names: Record<CheckFinding['what'], string> = {
  'shadow-new': 'a new shadow',
  'shadow-gone': 'a shadow that went',
  vignetting: 'vignetting shifted by',
  tilt: 'the panel hangs askew by',
  balance: 'the colour of the light is another by',
  pedestal: 'level',
  'dark-signal': 'hot pixels gathered',
  glow: 'glow',
  'glow-shape': 'beside the glow of the master',
  'hot-new': 'newly hot pixels',
  'another-sensor': 'hot pixels elsewhere',
}

function tellFinding({ what, where, sizePx, depth }: CheckFinding): string {
  const adu = what === 'pedestal' || what === 'glow' || what === 'glow-shape'
  const much = adu ? `${depth > 0 ? '+' : ''}${depth.toFixed(1)} ADU` : percent(depth)
  const at = where ? ` at ${Math.round(where.x)}, ${Math.round(where.y)}` : ''
  const wide = sizePx === null ? '' : `, ${Math.round(sizePx)} px wide`
  return `  ${names[what]} ${what.startsWith('shadow') ? `of ${much}` : much}${at}${wide}`
}
