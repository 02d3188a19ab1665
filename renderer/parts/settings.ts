import type { Frame, Settings, Shortfall } from '../../main/contract/index.ts'
import { counted, duration, exposure, measuredTemp, number, plain, setTemp, withUnit } from './format.ts'
import { capital, fieldWord, kindWord, kindsWord } from './labels.ts'

/** The first stored row is the lowest of the picture. Where a header does not say, it counts as the highest. */
export const isBottomUp = (stored: { rowOrder: string | null } | null): boolean => stored?.rowOrder === 'BOTTOM-UP'

/** What a frame's page and a master's tell of their settings, in this order. */
const shared = [
  'camera',
  'body',
  'exposureS',
  'gain',
  'offset',
  'setTempC',
  'sensorTempC',
  'filter',
  'binning',
  'readout',
]
const size = ['width', 'height']
export const frameFacts = [
  ...shared,
  ...size,
  'cfa',
  'telescope',
  'focalMm',
  'mechAngleDeg',
  'skyAngleDeg',
  'program',
  'rig',
  'train',
]
export const masterFacts = [...shared, ...size, 'mechAngleDeg', 'train']

type Value = number | string | null | undefined

/** A setting's value with its unit; null where it is not known. */
export function settingValue(field: string, value: Value): string | null {
  if (value === null || value === undefined || value === '') return null
  if (typeof value === 'string') return value
  if (field === 'exposureS') return exposure(value)
  if (field === 'setTempC') return setTemp(value)
  if (field === 'sensorTempC' || field === 'tempC') return measuredTemp(value)
  if (field === 'focalMm') return withUnit(number(value, 1, true), 'mm')
  if (field.endsWith('AngleDeg')) return `${number(value, 1, true)}°`
  if (field === 'width' || field === 'height' || field.startsWith('origin')) return withUnit(number(value), 'px')
  return number(value, 3, true)
}

/** "gain 120", or "gain not known": what cannot be known is said, never guessed. */
const named = (field: string, value: Value) =>
  `${fieldWord(field)}\u00a0${settingValue(field, value) ?? 'not\u00a0known'}`

/** Set point first; the measured temperature beside it where it tells something new. */
export function temperature(settings: Partial<Pick<Settings, 'setTempC' | 'sensorTempC'>>): string {
  const { setTempC = null, sensorTempC = null } = settings
  if (setTempC === null && sensorTempC === null) return 'temperature not known'
  if (setTempC === null) return measuredTemp(sensorTempC!)
  if (sensorTempC === null || Math.abs(sensorTempC - setTempC) < 0.05) return setTemp(setTempC)
  return `${setTemp(setTempC)} (measured ${measuredTemp(sensorTempC)})`
}

/** The settings that decide a match, in the order in which one sets them; for the line above a frame's verdicts. */
export function settingsLine(frame: Settings): string[] {
  const parts = [
    frame.exposureS === null ? 'exposure not known' : exposure(frame.exposureS),
    named('gain', frame.gain),
    named('offset', frame.offset),
    temperature(frame),
  ]
  if (frame.binning && frame.binning !== '1x1') parts.push(named('binning', frame.binning))
  return parts
}

/** What a run is of: "Heart 1 · dual-band · 300 s", "flats · luminance · 3 s". */
export function runTitle(run: Partial<Settings> & { kind: Frame['kind']; target: string | null }): string {
  const what = run.kind === 'light' ? (run.target ?? 'no target named') : kindsWord[run.kind]
  const filter = run.kind === 'light' || run.kind === 'flat' ? run.filter : null
  return [what, filter, settingValue('exposureS', run.exposureS)].filter(Boolean).join(' · ')
}

/** The settings to copy by hand, large on the page. What every run of the rig shares anyway (camera, size) comes later. */
export function shootLine({ kind, settings }: Pick<Shortfall, 'kind' | 'settings'>): string[] {
  const temp = settings.setTempC ?? settings.sensorTempC ?? null
  return [
    settingValue('exposureS', settings.exposureS) ?? (kind === 'dark' ? 'exposure not known' : 'exposure by level'),
    named('gain', settings.gain),
    named('offset', settings.offset),
    temp === null ? 'temperature not known' : setTemp(Math.round(temp * 10) / 10),
  ]
}

/** The rest of the settings to type in, where they are known; of `rigs` that are several, whose they are. A dark is its camera's. */
export function shootDetail({ kind, settings }: Pick<Shortfall, 'kind' | 'settings'>, rigs = false): string[] {
  const size = settings.width && settings.height ? `${settings.width} × ${settings.height} px` : null
  return [
    (rigs && kind !== 'dark' && settings.rig) || null,
    settings.camera ?? null,
    size,
    settings.binning ? named('binning', settings.binning) : null,
    settings.readout != null ? named('readout', settings.readout) : null,
    settings.mechAngleDeg != null ? named('mechAngleDeg', settings.mechAngleDeg) : null,
    settings.train ? named('train', settings.train) : null,
  ].filter((part) => part !== null)
}

/** "25 flats, dual-band", "20 darks". */
export const shootTitle = (row: Pick<Shortfall, 'kind' | 'settings' | 'count'>) =>
  counted(row.count, kindWord[row.kind], kindsWord[row.kind]) +
  (row.kind !== 'dark' && row.settings.filter ? `, ${row.settings.filter}` : '')

/** Whom it is for: "61 lights, 4.3 h". */
export const waitingLights = (row: Pick<Shortfall, 'lights' | 'lightS'>) =>
  row.lights ? `${counted(row.lights, 'light')}, ${duration(row.lightS)}` : 'no light yet'

/** One row in plain words, one setting a line, for pasting beside the capture software. */
export function copyText(row: Shortfall, rigs = false): string {
  const lines = [
    shootTitle(row) + (row.have ? ` (${row.have} are there already)` : ''),
    ...shootLine(row),
    ...shootDetail(row, rigs),
    `takes about ${duration(row.seconds)}, for ${waitingLights(row)}`,
    ...row.cautions,
  ]
  return plain(lines.map((line, index) => (index ? `  ${line}` : capital(line))).join('\n'))
}

export const copyAllText = (rows: readonly Shortfall[], rigs = false) =>
  rows.map((row) => copyText(row, rigs)).join('\n\n')
