import type { Conflict, Settings } from '../main/contract/index.ts'
import type { FrameFacts } from '../main/frame/facts.ts'

type Stored = string | number | null

/** How a value stands in its column: as it is, as 0/1, or as JSON. */
type Form = 'plain' | 'flag' | 'json'

/** The settings of frames and masters, each a column of its own in snake_case. */
export const settingForms = {
  camera: 'plain',
  body: 'plain',
  width: 'plain',
  height: 'plain',
  originX: 'plain',
  originY: 'plain',
  binning: 'plain',
  readout: 'plain',
  gain: 'plain',
  offset: 'plain',
  setTempC: 'plain',
  sensorTempC: 'plain',
  exposureS: 'plain',
  filter: 'plain',
  telescope: 'plain',
  focalMm: 'plain',
  mechAngleDeg: 'plain',
  skyAngleDeg: 'plain',
  cfa: 'plain',
  rowOrder: 'plain',
  rig: 'plain',
  train: 'plain',
} as const satisfies Record<keyof Settings, Form>

/** Everything that a header and its file say about a frame. */
export const factForms = {
  ...settingForms,
  path: 'plain',
  kind: 'plain',
  kindFrom: 'plain',
  target: 'plain',
  startedAt: 'plain',
  night: 'plain',
  aside: 'flag',
  asideWhy: 'plain',
  state: 'plain',
  program: 'plain',
  combined: 'plain',
  integrated: 'flag',
  electronsPerAdu: 'plain',
  pixelUm: 'plain',
  siteLatDeg: 'plain',
  siteLongDeg: 'plain',
  conflicts: 'json',
} as const satisfies Record<keyof FrameFacts, Form>

/** `setTempC` → `set_temp_c`. */
export const columnOf = (name: string): string => name.replace(/[A-Z]/g, (letter) => `_${letter.toLowerCase()}`)

/** `"set_temp_c" = @setTempC`-style pieces of a statement; quoted, since OFFSET is a word of SQL. */
export const quoted = (name: string): string => `"${columnOf(name)}"`
export const parameters = (names: readonly string[]): string => names.map((name) => `@${name}`).join(', ')
export const columns = (names: readonly string[]): string => names.map(quoted).join(', ')
export const assignments = (names: readonly string[]): string =>
  names.map((name) => `${quoted(name)} = @${name}`).join(', ')

/** An object's fields, ready to be bound by name. An empty list of conflicts is null: nearly every frame has none. */
export function toStored<T extends Record<string, Form>>(forms: T, from: { [K in keyof T]?: unknown }) {
  const stored: Record<string, Stored> = {}
  for (const name in forms) {
    const value = from[name]
    if (forms[name] === 'flag') stored[name] = value ? 1 : 0
    else if (forms[name] === 'json') stored[name] = (value as Conflict[]).length ? JSON.stringify(value) : null
    else stored[name] = (value ?? null) as Stored
  }
  return stored
}

/** The other way round, from a row with snake_case columns. */
export function fromStored<T extends Record<string, Form>>(forms: T, row: Record<string, unknown>) {
  const object: Record<string, unknown> = {}
  for (const name in forms) {
    const value = row[columnOf(name)]
    if (forms[name] === 'flag') object[name] = value === 1
    else if (forms[name] === 'json') object[name] = value === null ? [] : JSON.parse(value as string)
    else object[name] = value
  }
  return object
}
