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

/** Makes the way back: from a row with snake_case columns to the object's fields. */
export function fromStored<T extends Record<string, Form>>(forms: T) {
  const fields = Object.entries(forms).map(([name, form]) => ({ name, form, column: columnOf(name) }))
  return (row: Record<string, unknown>): Record<string, unknown> => {
    const object: Record<string, unknown> = {}
    for (const { name, form, column } of fields) {
      const value = row[column]
      if (form === 'flag') object[name] = value === 1
      else if (form === 'json') object[name] = value === null ? [] : JSON.parse(value as string)
      else object[name] = value
    }
    return object
  }
}
