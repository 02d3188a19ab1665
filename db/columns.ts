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
  lightSource: 'plain',
  conflicts: 'json',
} as const satisfies Record<keyof FrameFacts, Form>

/** `setTempC` → `set_temp_c`. */
export const columnOf = (name: string): string => name.replace(/[A-Z]/g, (letter) => `_${letter.toLowerCase()}`)

/** Quoted, since OFFSET is a word of SQL. */
const quoted = (name: string) => `"${columnOf(name)}"`
/** Pieces of a statement that binds by position, in the order of `names`. */
export const columns = (names: readonly string[]): string => names.map(quoted).join(', ')
export const places = (names: readonly string[]): string => names.map(() => '?').join(', ')
export const assignments = (names: readonly string[]): string => names.map((name) => `${quoted(name)} = ?`).join(', ')

/** The fields of an object as their columns hold them, in the order of `forms`. */
export function toStored<T extends Record<string, Form>>(forms: T, from: { [K in keyof T]?: unknown }): Stored[] {
  const stored: Stored[] = []
  for (const name in forms) {
    const value = from[name]
    // No conflicts are null: nearly every frame has none.
    if (forms[name] === 'json') stored.push((value as Conflict[]).length ? JSON.stringify(value) : null)
    else stored.push(forms[name] === 'flag' ? (value ? 1 : 0) : ((value ?? null) as Stored))
  }
  return stored
}

/** The columns of these fields, each under its field's own name: a row that was read so needs no copy. */
export const fields = (forms: Record<string, Form>, table: string): string =>
  Object.keys(forms)
    .map((name) => `${table}.${quoted(name)} AS "${name}"`)
    .join(', ')

/**
 * Makes the way back: a row that `fields` read becomes the object, in its place. Only flags and JSON are put right; copying rows
 * field by field took ten times as long as reading them.
 */
export function fromStored(forms: Record<string, Form>) {
  const flags = Object.keys(forms).filter((name) => forms[name] === 'flag')
  const lists = Object.keys(forms).filter((name) => forms[name] === 'json')
  return <Row extends Record<string, unknown>>(row: Row): Row => {
    const object: Record<string, unknown> = row
    for (const name of flags) object[name] = object[name] === 1
    for (const name of lists) object[name] = object[name] === null ? [] : JSON.parse(object[name] as string)
    return row
  }
}
