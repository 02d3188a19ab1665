import type { Kind, MasterKind, Need, Urgency, VerdictWord, WayOut } from '../../contract/index.ts'

/** `count(1, 'file', 'files')` → "1 file". */
export const count = (n: number, one: string, many: string): string => `${n} ${n === 1 ? one : many}`

/** 12 300 000 → "12.3 MB". */
export const megabytes = (bytes: number): string => `${(bytes / 1e6).toFixed(bytes < 1e8 ? 1 : 0)} MB`

/** 290 → "4 min 50 s", 18300 → "5 h 5 min"; under a minute in seconds. */
export function duration(seconds: number): string {
  const whole = Math.round(seconds)
  if (whole < 60) return `${whole} s`
  if (whole < 600) return whole % 60 ? `${Math.floor(whole / 60)} min ${whole % 60} s` : `${whole / 60} min`
  const minutes = Math.round(whole / 60)
  if (minutes < 60) return `${minutes} min`
  return minutes % 60 ? `${Math.floor(minutes / 60)} h ${minutes % 60} min` : `${minutes / 60} h`
}

/** 21:04 by the clock on this machine's wall; "?" without a date. */
export function clockTime(at: string | null): string {
  const time = new Date(at ?? NaN)
  if (Number.isNaN(time.getTime())) return '?'
  return `${String(time.getHours()).padStart(2, '0')}:${String(time.getMinutes()).padStart(2, '0')}`
}

/** 2026-11-20 → "20 November 2026". */
export const dateInWords = (night: string): string =>
  new Date(`${night}T12:00:00Z`).toLocaleDateString('en-GB', {
    day: 'numeric',
    month: 'long',
    year: 'numeric',
    timeZone: 'UTC',
  })

export const urgencyWords: Record<Urgency, string> = {
  actNow: 'act now',
  beforeTeardown: 'before teardown',
  anyTime: 'any time',
  note: 'note',
}

export const verdictWords: Record<VerdictWord, string> = {
  matched: 'matched',
  near: 'near',
  unconfirmed: 'unconfirmed',
  due: 'due',
  missing: 'missing',
  lost: 'lost',
}

export const kindHeadings: Record<Kind, string> = {
  light: 'Lights',
  flat: 'Flats',
  dark: 'Darks',
  darkFlat: 'Dark flats',
  bias: 'Bias frames',
  unknown: 'Frames of an unknown kind',
}

export const needWords: Record<Need | MasterKind, string> = {
  dark: 'dark',
  flat: 'flat',
  darkFlat: 'dark flat',
  bias: 'bias',
}

/** How this command line offers a way out of a refusal. */
export function sayWayOut(way: WayOut): string {
  if ('take' in way) return `--master ${way.take} takes that one all the same.`
  if ('tell' in way) return `"library add ${way.tell} --scale … --subtracted …" tells it.`
  return '"rig set NAME --folder DIR" makes one.'
}

/** A long sentence over several lines, each with this indent. A number and what follows it stay together. */
export function wrap(text: string, indent: string, width = 96): string {
  const lines: string[] = []
  let line = indent
  for (const word of text.split(/(?<!\d) /)) {
    if (line.length > indent.length && line.length + word.length + 1 > width) {
      lines.push(line)
      line = indent
    }
    line += line.length > indent.length ? ` ${word}` : word
  }
  return [...lines, line].join('\n')
}
