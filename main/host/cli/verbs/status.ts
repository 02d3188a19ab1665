import { NEEDS, statusSchema, type Run, type Shortfall, type Status } from '../../../contract/index.ts'
import { openEngine } from '../../../engine/open.ts'
import { sayCount, saySettings } from '../../../match/wording.ts'
import { UsageError, type Verb } from '../verb.ts'
import { clockTime, count, dateInWords, duration, kindHeadings, needWords, urgencyWords, wrap } from '../words.ts'

/** The order in which a night is told: what the picture is made of first. */
const kindsInOrder = ['light', 'flat', 'darkFlat', 'dark', 'bias', 'unknown'] as const

export const status: Verb = {
  name: 'status',
  summary: 'tell what a night holds, what covers it, and what is still to be shot',
  usage: [
    'usage: nightshelf status [--night DATE] [--json]',
    '',
    '  --night DATE   the night that began on this date, like 2026-11-20;',
    '                 else the current one if it has frames, else the newest logged',
  ].join('\n'),
  options: { night: { type: 'string' } },
  run: async ({ options, words, dataDir, say, answer }) => {
    if (words.length) throw new UsageError(`"${words[0]}" is too much: a night is given with --night DATE.`)
    const night = readNight(options.night as string | undefined)
    const engine = await openEngine({ dataDir })
    try {
      const { runs, notices, shortfall, figuresPending, ...rest } = await engine.ask('tonight', { night })
      const document = statusSchema.parse({ night: rest.night, runs, notices, shortfall, figuresPending })
      answer(document)
      say(tell(document))
      return 0
    } finally {
      await engine.close()
    }
  },
}

export function readNight(text: string | undefined): string | undefined {
  if (text === undefined) return undefined
  const date = new Date(`${text}T00:00:00Z`)
  if (!/^\d{4}-\d{2}-\d{2}$/.test(text) || Number.isNaN(date.getTime()) || date.toISOString().slice(0, 10) !== text)
    throw new UsageError(`--night takes a date like 2026-11-20, not "${text}".`)
  return text
}

/** The night as a person reads it: the answer first, then what is to be done, then everything behind it. */
export function tell(status: Status): string {
  const parts = [
    headline(status),
    ...needs(status),
    ...notices(status),
    ...kindsInOrder.flatMap((kind) => runsOf(status, kind)),
  ]
  if (status.figuresPending > 0)
    parts.push(`The pixels of ${count(status.figuresPending, 'frame are', 'frames are')} still to be measured.`)
  return parts.join('\n\n')
}

function headline({ night, runs, shortfall }: Status): string {
  const lights = runs.filter((run) => run.kind === 'light' && !run.aside)
  const title = `Night of ${dateInWords(night)}`
  if (runs.length === 0)
    return `${title}\n\nNothing is logged of this night: log the folder of its frames with "nightshelf log DIR".`
  const frames = lights.reduce((sum, run) => sum + run.frames, 0)
  const seconds = lights.reduce((sum, run) => sum + run.totalS, 0)
  const shot = frames ? `${sayCount(frames, 'light')}, ${duration(seconds)} of exposure.` : 'No lights.'
  const urgent = shortfall.filter((row) => row.urgency === 'actNow' || row.urgency === 'beforeTeardown').length
  const need =
    shortfall.length === 0
      ? 'Nothing is left to be shot.'
      : `${count(shortfall.length, 'run is', 'runs are')} still to be shot${urgent ? `, ${urgent === shortfall.length ? 'all' : urgent} of them before the rig is touched` : ''}.`
  return `${title}\n\n${shot} ${need}`
}

function needs({ shortfall }: Status): string[] {
  if (shortfall.length === 0) return []
  const cautions = [...new Set(shortfall.flatMap((row) => row.cautions))]
  return [
    ['Still to be shot', ...shortfall.map(need)].join('\n'),
    ...(cautions.length ? [cautions.map((caution) => wrap(`Mind: ${caution}`, '  ')).join('\n')] : []),
  ]
}

function need(row: Shortfall): string {
  const what = `${sayCount(row.count, row.kind)}: ${saySettings(row.settings)}`
  const waiting = row.lights ? `, for ${sayCount(row.lights, 'light')} (${duration(row.lightS)})` : ''
  return [
    wrap(`${what}. ${capital(urgencyWords[row.urgency])}, about ${duration(row.seconds)}${waiting}.`, '  '),
    wrap(row.reason, '    '),
  ].join('\n')
}

function notices({ notices }: Status): string[] {
  if (notices.length === 0) return []
  const lines = notices.map(({ id, severity, text, why, acknowledged }) =>
    [
      wrap(`${capital(urgencyWords[severity])}: ${text}${acknowledged ? ' (seen)' : ''}`, '  '),
      wrap(why, '    '),
      `    ${id}`,
    ].join('\n'),
  )
  return [['To know', ...lines].join('\n')]
}

function runsOf({ runs }: Status, kind: Run['kind']): string[] {
  const own = runs.filter((run) => run.kind === kind)
  return own.length ? [[kindHeadings[kind], ...own.map(tellRun)].join('\n')] : []
}

function tellRun(run: Run): string {
  const about = [run.target, saySettings(run), run.rig].filter(Boolean).join(', ')
  const span = run.firstAt ? `, ${clockTime(run.firstAt)} to ${clockTime(run.lastAt)}` : ''
  const lines = [wrap(`${run.frames} × ${about}${span}${run.aside ? ' (aside, needs nothing)' : ''}`, '  ')]
  for (const key of NEEDS) {
    const verdict = run.verdicts[key]
    if (!verdict) continue
    const counts = Object.entries(verdict.counts)
    const spread = counts.length > 1 ? ` (${counts.map(([word, n]) => `${n} ${word}`).join(', ')})` : ''
    lines.push(wrap(`${capital(needWords[key])} ${verdict.verdict}${spread}: ${verdict.text}`, '    '))
  }
  return lines.join('\n')
}

const capital = (text: string) => text.charAt(0).toUpperCase() + text.slice(1)
