import type { Frame } from '../../contract/index.ts'

/** The columns of a night's log, in order: a frame's own fields, units in their names. */
const COLUMNS = [
  'id',
  'startedAt',
  'kind',
  'target',
  'filter',
  'exposureS',
  'gain',
  'offset',
  'setTempC',
  'sensorTempC',
  'camera',
  'binning',
  'readout',
  'telescope',
  'rig',
  'mechAngleDeg',
  'aside',
  'state',
  'path',
] as const satisfies readonly (keyof Frame)[]

/**
 * Frames as CSV (RFC 4180: CRLF, quotes doubled), a line each after one of names; what is unknown stays empty. Text that a
 * spreadsheet would take for a formula gets an apostrophe before it (OWASP, "CSV Injection"): headers are written by strangers.
 */
export function framesAsCsv(frames: readonly Frame[]): string {
  const figures = ['median', 'noise'] as const
  const lines = frames.map((frame) => [
    ...COLUMNS.map((name) => cell(frame[name])),
    ...figures.map((name) => cell(frame.figures?.[name] ?? null)),
  ])
  return [[...COLUMNS, 'medianAdu', 'noiseAdu'], ...lines].map((line) => `${line.join(',')}\r\n`).join('')
}

function cell(value: string | number | boolean | null | undefined): string {
  if (value === null || value === undefined) return ''
  if (typeof value !== 'string') return String(value)
  const safe = /^[\s]*[=+\-@]|^[\t\r]/.test(value) ? `'${value}` : value
  return /[",\r\n]/.test(safe) ? `"${safe.replaceAll('"', '""')}"` : safe
}
