import type { Conflict } from '../contract/index.ts'
import { settings, type SettingDefinition, type SettingName } from './dictionary.ts'
import type { Findings, Found } from './lexicon.ts'
import { readAngle, readQuantity, readWords, rounded, type Reading } from './values.ts'

/** What a setting is called in a sentence, and the `Frame` field that a conflict about it belongs to. */
const names: Readonly<Record<SettingName, [label: string, field: string]>> = {
  kind: ['kind', 'kind'],
  camera: ['camera', 'camera'],
  body: ['camera body', 'body'],
  gain: ['gain', 'gain'],
  offset: ['offset', 'offset'],
  electronsPerAdu: ['conversion to electrons', 'electronsPerAdu'],
  setTempC: ['set temperature', 'setTempC'],
  sensorTempC: ['sensor temperature', 'sensorTempC'],
  exposureS: ['exposure', 'exposureS'],
  filter: ['filter', 'filter'],
  filterInSeries: ['filter', 'filter'],
  telescope: ['telescope', 'telescope'],
  focalMm: ['focal length', 'focalMm'],
  mechAngleDeg: ['rotator angle', 'mechAngleDeg'],
  skyAngleDeg: ['sky angle', 'skyAngleDeg'],
  binX: ['binning', 'binning'],
  binY: ['binning', 'binning'],
  binning: ['binning', 'binning'],
  originX: ['sub-frame origin', 'originX'],
  originY: ['sub-frame origin', 'originY'],
  readout: ['readout mode', 'readout'],
  pixelUm: ['pixel size', 'pixelUm'],
  unbinnedPixelUm: ['pixel size', 'pixelUm'],
  cfa: ['colour filter array', 'cfa'],
  cfaX: ['colour filter array', 'cfa'],
  cfaY: ['colour filter array', 'cfa'],
  rowOrder: ['order of the rows', 'rowOrder'],
  target: ['target', 'target'],
  program: ['writing program', 'program'],
  combined: ['number of combined frames', 'combined'],
  siteLatDeg: ['latitude', 'siteLatDeg'],
  siteLongDeg: ['longitude', 'siteLongDeg'],
  startedAt: ['start', 'startedAt'],
  startTime: ['start', 'startedAt'],
  localAt: ['local time', 'startedAt'],
  timeScale: ['time scale', 'startedAt'],
}

/** Reads the settings of one header and gathers what cannot be told. Nothing here throws, and nothing is ever assumed. */
export class Resolver {
  readonly findings: Findings
  readonly conflicts: Conflict[] = []

  constructor(findings: Findings) {
    this.findings = findings
  }

  found(setting: SettingName): readonly Found[] {
    return this.findings[setting] ?? []
  }

  /** A quantity in its setting's unit, rounded; null if absent or in conflict. */
  number(setting: SettingName, found = this.found(setting)): number | null {
    const definition = settings[setting]
    const read = definition.type === 'angle' ? readAngle : readQuantity
    return this.#agreed(
      setting,
      found,
      (card) => read(card.value, card.comment, definition, card.unit),
      apart(definition),
    )
  }

  /** A number where it is one, else its label ('HI'). */
  level(setting: SettingName, found = this.found(setting)): number | string | null {
    const definition = settings[setting]
    const read = (card: Found): { value: number | string } | null => {
      if (isNumeric(card.value) && definition.blanks?.includes(Number(card.value))) return null
      const reading = readQuantity(card.value, '', definition)
      if (reading && 'value' in reading) return reading
      const label = readWords(card.value)
      return label === null ? null : { value: label }
    }
    return this.#agreed<number | string>(setting, found, read, (a, b) =>
      typeof a === 'number' && typeof b === 'number' ? apart(definition)(a, b) : !sameWord(String(a), String(b)),
    )
  }

  /** Words, made plain by `canonical` before they are compared. */
  words(setting: SettingName, canonical: (text: string) => string | null = (text) => text): string | null {
    const read = (card: Found) => {
      const text = readWords(card.value)
      const value = text === null ? null : canonical(text)
      return value === null ? null : { value }
    }
    return this.#agreed(setting, this.found(setting), read, (a, b) => !sameWord(a, b))
  }

  /** @param sentence what stands before ", so the exposure is unknown." */
  unknown(setting: SettingName, found: readonly Found[], sentence: string): null {
    const [label, field] = names[setting]
    this.conflicts.push({
      setting: field,
      found: found.map(({ keyword, value }) => ({ keyword, value: showable(value) })),
      text: `${sentence}, so the ${label} is unknown.`,
    })
    return null
  }

  disagree(setting: SettingName, found: readonly Found[]): null {
    const says = found.map(({ keyword, value }) => `${keyword} says ${show(value)}`)
    return this.unknown(setting, found, `${says.slice(0, -1).join(', ')} and ${says.at(-1)}`)
  }

  #agreed<T extends number | string>(
    setting: SettingName,
    found: readonly Found[],
    read: (card: Found) => { value: T } | { why: string } | null,
    differ: (a: T, b: T) => boolean,
  ): T | null {
    const definition = settings[setting]
    let first: { value: T; card: Found } | null = null
    let doubt: { why: string; card: Found } | null = null
    for (const card of found) {
      const reading = read(card)
      if (!reading) continue
      if ('why' in reading) doubt ??= { why: reading.why, card }
      else if (!first) first = { value: reading.value, card }
      else if (definition.agree === 'must' && differ(first.value, reading.value))
        return this.disagree(setting, [first.card, card])
    }
    if (doubt && !(first && definition.agree === 'first'))
      return this.unknown(setting, [doubt.card], `${doubt.card.keyword} is ${show(doubt.card.value)}, ${doubt.why}`)
    if (!first) return null
    return typeof first.value === 'number' ? (rounded(first.value, definition) as T) : first.value
  }
}

export type { Reading }

const apart =
  ({ slack = 0, slackFraction = 0 }: SettingDefinition) =>
  (a: number, b: number) =>
    Math.abs(a - b) > Math.max(slack, Math.abs(a) * slackFraction) * (1 + 1e-9) + 1e-12

const isNumeric = (value: unknown) => typeof value === 'number' || typeof value === 'string'

const sameWord = (a: string, b: string) => a.toUpperCase() === b.toUpperCase()

const showable = (value: unknown): string | number | boolean =>
  typeof value === 'number' && Number.isFinite(value)
    ? value
    : typeof value === 'boolean'
      ? value
      : (readWords(value) ?? '')

const show = (value: unknown) => (typeof value === 'string' ? `"${value.trim()}"` : String(showable(value)))
