import type { Answer, SensorFiguresAnswer } from '../../../contract/index.ts'
import { openEngine, type Engine } from '../../../engine/open.ts'
import { measureSensor } from '../../../inspect/sensor-pairs.ts'
import type { Estimate } from '../../../inspect/statistics.ts'
import { sayExposure, saySettings, sayTemp } from '../../../match/wording.ts'
import { UsageError, type Call, type Verb } from '../verb.ts'
import { wrap } from '../words.ts'

export const sensor: Verb = {
  name: 'sensor',
  summary: 'gain, noise and shortest steady exposure of a sensor',
  usage: [
    'usage: nightshelf sensor --flats A B [C D …] --darks A B [C D …] [--json]',
    '       nightshelf sensor --log [--json]',
    '       nightshelf sensor --floor FILE… [--json]',
    '',
    '  Photon transfer after EMVA 1288: two flats and two darks of one exposure give gain and dark noise;',
    '  three or more exposures, up to saturation, also linearity, full well and dark current.',
    '  All frames with the same camera, gain, offset, readout and temperature; the light source steady.',
    '',
    '  --log    measures every setting for which the log holds such pairs, and keeps the figures: near matches are priced by them',
    '  --floor  at least three short exposures, two frames of each, of one steady light source: from which on do levels',
    '           follow the exposure, and stand still? One dark or dark flat of the same settings must be logged.',
    '           Frames at two sensor temperatures (more than 5 °C apart) are compared, from one exposure on: level, jumps, pedestal.',
  ].join('\n'),
  options: {
    flats: { type: 'string', multiple: true },
    darks: { type: 'string', multiple: true },
    floor: { type: 'string', multiple: true },
    log: { type: 'boolean' },
  },
  run: async (call) => {
    const { options, words } = call
    const flats = (options.flats ?? []) as string[]
    const darks = (options.darks ?? []) as string[]
    const floor = (options.floor ?? []) as string[]
    const ways = [flats.length + darks.length > 0, floor.length > 0, options.log === true].filter(Boolean).length
    if (words.length || ways !== 1 || (flats.length === 0) !== (darks.length === 0))
      throw new UsageError('sensor needs flats and darks (--flats A B --darks C D), or --log, or --floor FILE…')
    if (flats.length) return pairs(flats, darks, call)
    const engine = await openEngine({ dataDir: call.dataDir })
    const stop = () => void engine.close()
    call.signal.addEventListener('abort', stop)
    try {
      return floor.length ? await findFloor(engine, floor, call) : await fromLog(engine, call)
    } finally {
      call.signal.removeEventListener('abort', stop)
      await engine.close()
    }
  },
}

function pairs(flats: string[], darks: string[], { say, answer }: Call): number {
  const report = measureSensor(flats, darks)
  answer(report)
  say(`Gain   ${inWords(report.ePerDn, 'e-/ADU')}   (K ${inWords(report.gainDnPerE, 'ADU/e-')})`)
  say(`Noise  ${inWords(report.temporalDarkNoiseE, 'e-')} in the dark (${report.temporalDarkNoiseDn.toFixed(2)} ADU)`)
  tellRest(report, say)
  return 0
}

async function fromLog(engine: Engine, { say, answer, complain }: Call): Promise<number> {
  const document = await engine.ask('measureSensors', {})
  answer(document)
  for (const figures of document.measured) {
    say(`${figures.camera}, ${saySettings(figures)}, from ${figures.sources.length} frames and masters`)
    say(`Gain   ${inWords(figures.ePerAdu, 'e-/ADU')}`)
    say(`Noise  ${inWords(figures.temporalDarkNoiseE, 'e-')} in the dark`)
    tellRest(figures, say)
  }
  if (!document.measured.length && !document.lacking.length) say('The log holds no flats to measure a sensor by.')
  for (const { camera, text } of document.lacking) complain(`${camera}, ${text}`)
  return document.measured.length ? 0 : 1
}

async function findFloor(engine: Engine, paths: string[], { say, answer }: Call): Promise<number> {
  const document = await engine.ask('findFloor', { paths })
  answer(document)
  if (document.points.length) say(plot(document))
  if (document.compared) say(wrap(document.compared.text, ''))
  say(wrap(document.text, ''))
  const { floorS, rule } = document
  if (floorS !== null && rule) say(wrap(againstRule(floorS, rule), ''))
  return document.floorS === null && !document.compared?.points.length ? 1 : 0
}

/** What was found, against what the class of the camera asks for. */
function againstRule(floorS: number, rule: NonNullable<Answer<'findFloor'>['rule']>): string {
  const asks = `Its class (${rule.name}) asks for ${rule.floorS ? sayExposure(rule.floorS) : 'no floor'}`
  if (Math.abs(floorS - rule.floorS) < 0.01 * floorS) return `${asks}: the same.`
  const than = floorS < rule.floorS ? 'longer than these frames need' : 'shorter than these frames need'
  return `${asks}: ${than}. "rules set ${rule.class} floorS ${floorS} --because …" takes over what was found.`
}

/** Departures as a column of signs, so that a terminal shows where the curve bends. */
function plot({ points }: Answer<'findFloor'>): string {
  const most = Math.max(...points.map((p) => Math.max(Math.abs(p.departure), p.jump)), 0.01)
  const rows = points.map((p) => {
    const bar = '·'.repeat(Math.round((30 * Math.abs(p.departure)) / most))
    const figures = `${percent(p.departure).padStart(8)}  jumps ${percent(p.jump).padStart(7)}`
    return `  ${sayExposure(p.exposureS).padStart(9)}  ${figures}  ${p.steady ? 'steady  ' : 'unsteady'} ${bar}`
  })
  return ['   exposure  off by', ...rows].join('\n')
}

const percent = (fraction: number) => `${(100 * fraction).toFixed(2)} %`

type Rest = Pick<SensorFiguresAnswer, 'saturationE' | 'linearityErrorPercent' | 'darkCurrentEPerS'> &
  Partial<Pick<SensorFiguresAnswer, 'darkCurrentAtC' | 'doublingC'>>

function tellRest(rest: Rest, say: Call['say']): void {
  const { saturationE, linearityErrorPercent, darkCurrentEPerS, darkCurrentAtC = null, doublingC } = rest
  if (saturationE !== null) say(`Full   ${Math.round(saturationE)} e- where the levels saturate`)
  if (linearityErrorPercent)
    say(`Linear within ${linearityErrorPercent.min.toFixed(2)} to +${linearityErrorPercent.max.toFixed(2)} %`)
  if (darkCurrentEPerS)
    say(`Dark   ${inWords(darkCurrentEPerS, 'e-/s')}${darkCurrentAtC === null ? '' : ` at ${sayTemp(darkCurrentAtC)}`}`)
  if (doublingC) say(`Dark current doubles every ${inWords(doublingC, '°C')}`)
}

const inWords = ({ value, ci95 }: Pick<Estimate, 'value'> & { ci95: Estimate['ci95'] | null }, unit: string) =>
  `${value.toPrecision(4)} ${unit} ${ci95 ? `(95 %: ${ci95[0].toPrecision(4)} to ${ci95[1].toPrecision(4)})` : '(two temperatures tell no interval)'}`
