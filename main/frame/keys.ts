import type { Settings } from '../contract/index.ts'

type Field = keyof Settings

/**
 * What must be equal between a light (or flat) and its dark (or dark flat). Sensor temperature and exposure are held within
 * tolerances instead, and are no part of the key. A dark and a dark flat are physically one thing and share this list.
 */
export const darkFields = [
  'camera',
  'body',
  'width',
  'height',
  'originX',
  'originY',
  'binning',
  'readout',
  'gain',
  'offset',
] as const satisfies readonly Field[]

/** What must be equal between a light and its flat. Epoch, mechanical angle, and gain and offset by sensor rules come on top. */
export const flatFields = [
  'camera',
  'body',
  'width',
  'height',
  'originX',
  'originY',
  'binning',
  'readout',
  'filter',
  'train',
] as const satisfies readonly Field[]

export type DarkField = (typeof darkFields)[number]
export type FlatField = (typeof flatFields)[number]

/** Stands for "unknown" in a key; no value of a header can look like it. */
const unknown = '\u0000'

/**
 * One value as it is compared: numbers to six digits (a float32 that passed through a header still equals itself), words without
 * regard to case or doubled blanks, and a number written as a word (`'100'`) like the number. Null (unknown) stays null.
 */
export function keyValue(value: string | number | null): string | null {
  if (value === null) return null
  if (typeof value === 'number') {
    // Most settings are small whole numbers, which have six digits as they are.
    if (Number.isInteger(value) && Math.abs(value) < 1e6) return String(value)
    return String(Number(value.toPrecision(6)) + 0)
  }
  let key = words.get(value)
  if (key === undefined) {
    const word = value.trim().replace(/\s+/g, ' ')
    key = /^[+-]?\d+(\.\d+)?$/.test(word) ? String(keyValue(Number(word))) : word.toUpperCase()
    if (words.size > 10_000) words.clear()
    words.set(value, key)
  }
  return key
}

/** A library of thousands repeats a few dozen words. */
const words = new Map<string, string>()

/** `equal` also where both sides do not know; `unconfirmed` where just one does not. */
export function compareField(
  a: string | number | null,
  b: string | number | null,
): 'equal' | 'differs' | 'unconfirmed' {
  if (a === b) return 'equal'
  const left = keyValue(a)
  const right = keyValue(b)
  if (left === right) return 'equal'
  return left === null || right === null ? 'unconfirmed' : 'differs'
}

/**
 * The fields of `darkFields` as one string: two frames have the same string exactly where `compareField` says `equal` for every
 * field. Where the strings differ, a null on one side only may be the reason: compare field by field to tell.
 */
export const darkKey = (settings: Pick<Settings, DarkField>): string => keyOf(settings, darkFields)

/** The fields of `flatFields` as one string; see `darkKey`. */
export const flatKey = (settings: Pick<Settings, FlatField>): string => keyOf(settings, flatFields)

function keyOf<F extends Field>(settings: Pick<Settings, F>, fields: readonly F[]): string {
  let key = ''
  for (const field of fields) key += (keyValue(settings[field]) ?? unknown) + '\u001f'
  return key
}
