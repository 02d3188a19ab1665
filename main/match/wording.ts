import type { Difference, Kind, MasterKind, Need, Settings } from '../contract/index.ts'

/** Plain words for fields, as they are said in a sentence. */
const fieldWords: Partial<Record<string, string>> = {
  camera: 'camera',
  body: 'camera body',
  width: 'width',
  height: 'height',
  originX: 'sub-frame x',
  originY: 'sub-frame y',
  binning: 'binning',
  readout: 'readout mode',
  gain: 'gain',
  offset: 'offset',
  setTempC: 'set temperature',
  sensorTempC: 'temperature',
  exposureS: 'exposure',
  filter: 'filter',
  telescope: 'telescope',
  focalMm: 'focal length',
  mechAngleDeg: 'rotator angle',
  cfa: 'colour pattern',
  rowOrder: 'row order',
  rig: 'rig',
  train: 'train',
  epoch: 'epoch',
  madeAt: 'date',
  scale: 'scale (ADU or 0–1)',
  subtracted: 'history (what was subtracted)',
}
const kindWords: Record<Kind, string> = {
  light: 'light',
  dark: 'dark',
  darkFlat: 'dark flat',
  flat: 'flat',
  bias: 'bias',
  unknown: 'frame',
}

export const sayField = (field: string) => fieldWords[field] ?? field
export const sayKind = (kind: Kind | MasterKind | Need) => kindWords[kind]
export const sayKinds = (kind: Kind | Need, n: number) =>
  kind === 'bias' ? (n === 1 ? 'bias frame' : 'bias frames') : `${kindWords[kind]}${n === 1 ? '' : 's'}`

/** 1 light, 61 lights. */
export const sayCount = (n: number, kind: Kind | Need) => `${n} ${sayKinds(kind, n)}`

const number = (value: number, digits: number) => Number(value.toFixed(digits)).toString().replace(/^-/, '−')

/** −10.0 °C, always with one decimal, so that 2 m away −1 and −10 are not confused. */
export const sayTemp = (tempC: number) => `${(Math.round(tempC * 10) / 10 + 0).toFixed(1).replace(/^-/, '−')} °C`
export const sayExposure = (exposureS: number) => `${number(exposureS, exposureS < 10 ? 3 : 1)} s`
export const sayAngle = (angleDeg: number) => `${number(angleDeg, 1)}°`

/** A setting's value with its unit; "unknown" where it is null. */
export function sayValue(field: string, value: Difference['light']): string {
  if (value === null) return 'unknown'
  if (typeof value === 'string') return value
  if (field === 'setTempC' || field === 'sensorTempC') return sayTemp(value)
  if (field === 'exposureS') return sayExposure(value)
  if (field === 'mechAngleDeg' || field === 'skyAngleDeg') return sayAngle(value)
  if (field === 'focalMm') return `${number(value, 0)} mm`
  return number(value, 3)
}

/** "offset 50, the light has 30". @param wants what needs the master: a light, or a flat that needs its dark flat */
export function sayDifference(difference: Difference, wants: 'light' | 'flat'): string {
  const { field, light, master } = difference
  if (field === 'epoch') return 'taken before the train was changed, not proven since'
  if (field === 'subtracted')
    return light === 'none' ? `${master} already subtracted` : `${master} subtracted, not a dark flat`
  if (light === null && master === null) return `${sayField(field)} unknown on both sides`
  return `${labelled(field, master)}, the ${wants} has ${sayValue(field, light)}`
}

/** Values that carry their unit need no name before them ("180 s"); bare numbers do ("gain 100"). */
function labelled(field: string, value: Difference['light']): string {
  const selfEvident = field === 'exposureS' || field === 'setTempC' || field === 'sensorTempC'
  return selfEvident && value !== null ? sayValue(field, value) : `${sayField(field)} ${sayValue(field, value)}`
}

export const sayDifferences = (differences: readonly Difference[], wants: 'light' | 'flat') =>
  differences.map((d) => sayDifference(d, wants)).join('; ')

/** Which side does not know: "its offset is not known", "the light does not say its offset". */
export function sayUnknown(differences: readonly Difference[], wants: 'light' | 'flat'): string {
  const here = differences.filter((d) => d.master === null).map((d) => sayField(d.field))
  const there = differences.filter((d) => d.master !== null).map((d) => sayField(d.field))
  const parts = []
  if (here.length) parts.push(`its ${list(here)} ${here.length > 1 ? 'are' : 'is'} not known`)
  if (there.length) parts.push(`the ${wants} does not say its ${list(there)}`)
  return parts.join(', and ')
}

/** a, b and c */
export const list = (words: readonly string[]) =>
  words.length < 2 ? words.join('') : `${words.slice(0, -1).join(', ')} and ${words.at(-1)}`

const dayMs = 86_400_000

/** "made today", "41 days old", "2.4 years old"; "age unknown". */
export function sayAge(madeAt: string | null, now: string): string {
  const age = Date.parse(now) - Date.parse(madeAt ?? '')
  if (Number.isNaN(age)) return 'age unknown'
  const days = Math.floor(age / dayMs)
  if (days < 1) return 'made today'
  if (days > 730) return `${(days / 365.25).toFixed(1)} years old`
  return `${days} ${days === 1 ? 'day' : 'days'} old`
}

export const sayFrames = (frames: number | null) =>
  frames === null ? 'number of frames unknown' : `${frames} ${frames === 1 ? 'frame' : 'frames'}`

/** "Dual-band, gain 120, offset 30": the settings of a need in one breath; unknown ones are left out. */
export function saySettings(settings: Partial<Settings>): string {
  const parts = []
  if (settings.filter) parts.push(settings.filter)
  if (settings.exposureS != null) parts.push(sayExposure(settings.exposureS))
  if (settings.gain != null) parts.push(`gain ${settings.gain}`)
  if (settings.offset != null) parts.push(`offset ${settings.offset}`)
  const tempC = settings.setTempC ?? settings.sensorTempC
  if (tempC != null) parts.push(sayTemp(tempC))
  if (settings.mechAngleDeg != null) parts.push(`rotator at ${sayAngle(settings.mechAngleDeg)}`)
  return parts.join(', ')
}
