import type { FrameContext, FrameFile } from './facts.ts'
import { nightOf, zoneOffsetMs } from './night.ts'
import type { Resolver } from './resolve.ts'
import { readClock, readStamp } from './time.ts'
import { readWords } from './values.ts'

const day = 86_400_000

/**
 * When the exposure began (UTC), and its night. DATE-BEG is the start by definition, DATE-OBS by practice; a date without a time
 * takes it from UT or TIME-OBS. A frame with DATE-LOC alone is placed by the zone given. A frame without any date belongs to
 * the night of its file's last modification, and its start stays unknown.
 */
export function readStart(
  resolve: Resolver,
  exposureS: number | null,
  siteLongDeg: number | null,
  file: FrameFile,
  { zone }: FrameContext,
): { startedAt: string | null; night: string } {
  const local = firstStamp(resolve, 'localAt')
  const start = readUtc(resolve, exposureS, zone)
  const localMs = local?.hasTime ? local.ms : null
  if (start.ms !== null)
    return { startedAt: iso(start.ms), night: nightOf({ atMs: start.ms, localMs, siteLongDeg, zone }) }
  if (localMs !== null && !start.conflict) {
    const atMs = localMs - zoneOffsetMs(localMs - zoneOffsetMs(localMs, zone), zone)
    return { startedAt: iso(atMs), night: nightOf({ atMs, localMs, siteLongDeg, zone }) }
  }
  const mtimeMs = Math.min(Math.max(Number.isFinite(file.mtimeMs) ? file.mtimeMs : 0, 0), 253e12)
  const night = nightOf({ atMs: mtimeMs, siteLongDeg, zone })
  return { startedAt: null, night: start.dateMs === null ? night : nearest(night, start.dateMs) }
}

interface Start {
  ms: number | null
  /** The date alone, where there is no time of day. */
  dateMs: number | null
  conflict: boolean
}

function readUtc(resolve: Resolver, exposureS: number | null, zone: string): Start {
  const cards = resolve.found('startedAt').filter((card) => readWords(card.value) !== null)
  const stamps = cards.map((card) => ({ card, stamp: readStamp(card.value) }))
  const good = stamps.filter((s) => s.stamp !== null)
  const none: Start = { ms: null, dateMs: null, conflict: false }
  if (!good.length) {
    if (!cards.length) return none
    resolve.unknown(
      'startedAt',
      cards.slice(0, 1),
      `${cards[0].keyword} is "${readWords(cards[0].value)}", which is no date`,
    )
    return none
  }
  const timed = good.filter((s) => s.stamp?.hasTime)
  const first = timed[0]?.stamp?.ms
  if (first === undefined) return addClock(resolve, good[0].stamp?.ms ?? 0)
  // Some write the middle or the end of the exposure into one of them: that is no disagreement.
  const slackMs = ((exposureS ?? 0) + 2) * 1000
  const odd = timed.find((s) => Math.abs((s.stamp?.ms ?? 0) - first) > slackMs)
  if (odd) {
    resolve.disagree('startedAt', [timed[0].card, odd.card])
    return { ...none, conflict: true }
  }
  const isLocal = /^local$/i.test(resolve.words('timeScale') ?? '')
  return { ...none, ms: isLocal ? first - zoneOffsetMs(first, zone) : first }
}

/** Date and time of day in two keywords: a wall-clock pair as old observatory files write it. */
function addClock(resolve: Resolver, dateMs: number): Start {
  for (const card of resolve.found('startTime')) {
    const clock = readClock(card.value)
    if (clock !== null) return { ms: dateMs + clock, dateMs: null, conflict: false }
  }
  resolve.unknown('startedAt', resolve.found('startedAt').slice(0, 1), 'The date has no time of day')
  return { ms: null, dateMs, conflict: false }
}

/** The file's own night where it fits a date without a time (that day or the one before), else the date. */
function nearest(night: string, dateMs: number): string {
  const days = (dateMs - Date.parse(night)) / day
  return days === 0 || days === 1 ? night : iso(dateMs).slice(0, 10)
}

function firstStamp(resolve: Resolver, setting: 'localAt') {
  for (const card of resolve.found(setting)) {
    const stamp = readStamp(card.value)
    if (stamp) return stamp
  }
  return null
}

const iso = (ms: number) => new Date(ms).toISOString()
