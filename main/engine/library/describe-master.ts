import { basename } from 'node:path'
import {
  MASTER_KINDS,
  type LightSource,
  type MasterAnswers,
  type MasterKind,
  type Settings,
} from '../../contract/index.ts'
import type { FitsInfo } from '../../fits/file.ts'
import type { FrameFacts } from '../../frame/facts.ts'
import { list, sayField } from '../../match/wording.ts'

/** What header and answers together say of a master. */
export interface MasterFacts extends Settings {
  kind: MasterKind
  frames: number | null
  madeAt: string | null
  scale: 'adu' | 'unit' | null
  subtracted: 'none' | 'bias' | 'darkFlat' | null
  program: string | null
  lightSource: LightSource | null
}

export type Described = { facts: MasterFacts } | { lacks: string[]; reason: string; suggests?: Record<string, string> }

const isMasterKind = (kind: string): kind is MasterKind => (MASTER_KINDS as readonly string[]).includes(kind)

/**
 * Answers come before the header only where it is silent or only a name spoke: what a header says of its own frame is no
 * matter of opinion, save for the kind, which headers often get wrong (a dark flat labelled plain "Dark").
 * @param silent fields that frames of this camera never have either: a master may lack them too
 */
export function describeMaster(
  info: FitsInfo,
  facts: FrameFacts,
  answers: MasterAnswers,
  silent: ReadonlySet<string>,
): Described {
  if ((info.image?.planes ?? 1) > 1)
    return refuse('This file holds a colour picture, not pixels as the sensor gave them: add the master from before.')
  if (facts.kind === 'light' && facts.kindFrom === 'header' && !answers.kind)
    return refuse('This is a light, no master.')
  const told = tell(facts, answers)
  const kind = answers.kind ?? (facts.kindFrom === 'name' ? null : facts.kind)
  const known = kind !== null && isMasterKind(kind) ? kind : null
  const lacks = [...(known ? [] : ['kind']), ...missing(told, known).filter((field) => !silent.has(field))]
  if (lacks.length > 0 || !known) return ask(lacks, facts)
  return {
    facts: {
      ...told,
      kind: known,
      frames: answers.frames ?? (facts.combined && facts.combined > 1 ? facts.combined : null),
      madeAt: facts.startedAt ?? madeOn(info),
      scale: answers.scale ?? scaleOf(info),
      subtracted: answers.subtracted ?? subtractedOf(info),
      program: facts.program,
      lightSource: known === 'flat' ? (answers.lightSource ?? facts.lightSource ?? null) : null,
    },
  }
}

const refuse = (reason: string): Described => ({ lacks: [], reason })

/** What a header says of a master, and what was told where it is silent. */
export function tell(facts: FrameFacts, answers: MasterAnswers): Settings {
  const temperatureKnown = facts.sensorTempC !== null || facts.setTempC !== null
  return {
    camera: facts.camera ?? answers.camera ?? null,
    body: facts.body,
    width: facts.width,
    height: facts.height,
    originX: facts.originX,
    originY: facts.originY,
    binning: facts.binning,
    readout: facts.readout,
    gain: facts.gain ?? answers.gain ?? null,
    offset: facts.offset ?? answers.offset ?? null,
    setTempC: facts.setTempC ?? (temperatureKnown ? null : (answers.tempC ?? null)),
    sensorTempC: facts.sensorTempC ?? (temperatureKnown ? null : (answers.tempC ?? null)),
    exposureS: facts.exposureS ?? answers.exposureS ?? null,
    filter: facts.filter ?? answers.filter ?? null,
    telescope: facts.telescope,
    focalMm: facts.focalMm,
    mechAngleDeg: facts.mechAngleDeg,
    skyAngleDeg: facts.skyAngleDeg,
    cfa: facts.cfa,
    rowOrder: facts.rowOrder,
    rig: facts.rig,
    train: facts.train,
  }
}

/** Fields without which a master of this kind could be matched with nothing. */
function missing(told: Settings, kind: MasterKind | null): string[] {
  const lacks: string[] = []
  if (told.camera === null) lacks.push('camera')
  if (told.gain === null) lacks.push('gain')
  if (told.offset === null) lacks.push('offset')
  if (kind !== 'flat' && told.sensorTempC === null && told.setTempC === null) lacks.push('sensorTempC')
  if (kind !== 'flat' && kind !== 'bias' && told.exposureS === null) lacks.push('exposureS')
  if (kind === 'flat' && told.filter === null) lacks.push('filter')
  return lacks
}

function ask(lacks: string[], facts: FrameFacts): Exclude<Described, { facts: MasterFacts }> {
  const suggested = Object.entries(suggest(facts)).filter(([field]) => lacks.includes(field))
  const offer = suggested.map(([field, value]) => `${sayField(field)} ${value}`)
  const said = `Its header does not say its ${list(lacks.map(sayField))}: add it again and tell that.`
  const reason = offer.length ? `${said} Its name suggests ${list(offer)}.` : said
  return { lacks, reason, ...(offer.length && { suggests: Object.fromEntries(suggested) }) }
}

/** Fields that a file's name seems to state: `master_dark_300s_-10C_gain100_offset30_Ha.fits`. Offered, never taken. */
export function suggest({
  path,
  kind,
  kindFrom,
}: Pick<FrameFacts, 'path' | 'kind' | 'kindFrom'>): Record<string, string> {
  const name = basename(path).replace(/\.(fits|fit|fts|fz)\b/gi, '')
  const find = (pattern: RegExp) => pattern.exec(name)?.[1]
  const found: Record<string, string | undefined> = {
    kind: kindFrom === 'name' && isMasterKind(kind) ? kind : undefined,
    gain: find(/(?:^|[_\W])g(?:ain)?[_\s=-]?(\d+(?:\.\d+)?)(?![a-z\d])/i),
    offset: find(/(?:^|[_\W])(?:o|off|offset)[_\s=-]?(\d+)(?![a-z\d])/i),
    sensorTempC: find(/(?:^|[_\s=])([+-]?\d+(?:\.\d+)?)\s?(?:deg)?C(?![a-z\d])/i),
    exposureS: find(/(?:^|[_\s=-])(\d+(?:\.\d+)?)\s?s(?:ec)?(?![a-z\d])/i),
    filter: find(/filter[_\s=-]?([a-z\d]+)/i),
  }
  return Object.fromEntries(Object.entries(found).filter((entry): entry is [string, string] => entry[1] !== undefined))
}

/** The standard's DATE: when the file was written, UTC. The best that is known where no frame's own date is. */
function madeOn({ header }: FitsInfo): string | null {
  const date = header.text('DATE')
  if (!date || !/^\d{4}-\d{2}-\d{2}/.test(date)) return null
  const ms = Date.parse(date.length === 10 ? `${date}T00:00:00Z` : `${date.replace(/Z$/, '')}Z`)
  return Number.isNaN(ms) ? null : new Date(ms).toISOString()
}

/** The standard's BUNIT, where it names counts. */
const scaleOf = ({ header }: FitsInfo) =>
  /^(adu|counts?)$/i.test(header.text('BUNIT') ?? '') ? ('adu' as const) : null

/** SUBTRACT is what the masters that this program writes say of themselves. */
function subtractedOf({ header }: FitsInfo): MasterFacts['subtracted'] {
  const said = header.text('SUBTRACT')?.toLowerCase()
  return said === 'none' || said === 'bias' ? said : said === 'darkflat' ? 'darkFlat' : null
}
