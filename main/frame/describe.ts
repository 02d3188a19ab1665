import type { Frame, Kind } from '../contract/index.ts'
import { whyAside } from './aside.ts'
import type { FrameContext, FrameFacts, FrameFile, HeaderLike, RigContext } from './facts.ts'
import { readFilter } from './filter.ts'
import { readGain } from './gain.ts'
import { kindFromNames, kindIn, saysMaster } from './kind.ts'
import { findSettings } from './lexicon.ts'
import { readLightSource } from './light-source.ts'
import { Resolver } from './resolve.ts'
import { readBinning, readColour, readPixelUm } from './sensor.ts'
import { readStart } from './start.ts'
import { readWords } from './values.ts'
import { namesOf } from './words.ts'

export type { CardLike, FrameContext, FrameFacts, FrameFile, HeaderLike, RigContext } from './facts.ts'

/**
 * What a header, the file's name and the rig say about a frame. Never throws: a header in any dialect gives facts, what cannot
 * be told is null, and `conflicts` says why. Exposures in s, temperatures in °C, angles in degrees (0 ≤ mechanical < 360).
 * `state` is 'ok': what is wrong with the file itself is for its reader to say.
 */
export function describeFrame(header: HeaderLike, file: FrameFile, context: FrameContext): FrameFacts {
  const resolve = new Resolver(findSettings(header, context))
  const names = namesOf(file.path, file.root)
  const kind = readKind(resolve, names, context)
  const camera = resolve.words('camera')
  const rig = rigOf(context.rig, camera)
  const { gain, electronsPerAdu } = readGain(resolve)
  const { binning, binX } = readBinning(resolve)
  const { cfa, rowOrder } = readColour(resolve, file.height)
  const exposureS = resolve.number('exposureS')
  const site = readSite(resolve, rig)
  const combined = resolve.number('combined')
  const mechAngle = resolve.number('mechAngleDeg')
  const asideWhy = readAside(resolve, names.below, context)
  const filter = readFilter(resolve, context, rig)
  const pixelUm = readPixelUm(resolve, binX)
  const kindTexts = resolve.found('kind').flatMap((card) => readWords(card.value) ?? [])
  const { startedAt, night } = readStart(resolve, exposureS, site.siteLongDeg, file, context)
  return {
    path: file.path,
    ...kind,
    camera,
    body: resolve.words('body') ?? rig?.body ?? null,
    width: file.width,
    height: file.height,
    originX: resolve.number('originX'),
    originY: resolve.number('originY'),
    binning,
    readout: resolve.level('readout'),
    gain,
    offset: resolve.level('offset'),
    setTempC: resolve.number('setTempC'),
    sensorTempC: resolve.number('sensorTempC'),
    exposureS,
    filter,
    telescope: resolve.words('telescope'),
    focalMm: resolve.number('focalMm'),
    mechAngleDeg: mechAngle === null ? null : turn(mechAngle),
    skyAngleDeg: resolve.number('skyAngleDeg'),
    cfa,
    rowOrder,
    rig: rig?.name ?? null,
    train: rig?.train ?? null,
    target: resolve.words('target', (text) => (/^none$/i.test(text) ? null : text)),
    startedAt,
    night,
    aside: asideWhy !== null,
    asideWhy,
    state: 'ok',
    program: resolve.words('program'),
    combined: combined !== null && Number.isInteger(combined) ? combined : null,
    integrated: (combined !== null && combined > 1) || namesMaster(resolve, names.below),
    electronsPerAdu,
    pixelUm,
    ...site,
    lightSource: readLightSource(kind.kind, header, kindTexts, names.below),
    conflicts: resolve.conflicts,
  }
}

/** The rig speaks for this frame unless it is of another camera than the rig's. */
function rigOf(rig: RigContext | null, camera: string | null): RigContext | null {
  if (!rig?.camera || camera === null) return rig
  return rig.camera.trim().toUpperCase() === camera.toUpperCase() ? rig : null
}

type NamesOfFile = ReturnType<typeof namesOf>

function readKind(
  resolve: Resolver,
  { below, root }: NamesOfFile,
  { kindWords }: FrameContext,
): Pick<Frame, 'kind' | 'kindFrom'> {
  const cards = resolve.found('kind').filter((card) => readWords(card.value) !== null)
  const told = cards.map((card) => ({ card, kind: kindIn(readWords(card.value) ?? '', kindWords) }))
  const known = told.filter((t) => t.kind !== null)
  const kinds = new Set(known.map((t) => t.kind as Kind))
  if (kinds.size === 2 && kinds.has('dark') && kinds.has('darkFlat')) kinds.delete('dark')
  if (kinds.size === 1) return { kind: [...kinds][0], kindFrom: 'header' }
  if (kinds.size > 1) {
    const cardsKnown = known.map((t) => t.card)
    resolve.disagree('kind', cardsKnown)
    return { kind: 'unknown', kindFrom: 'header' }
  }
  const guess = kindFromNames(root === null ? below : [...below, root], kindWords)
  if (guess) return { kind: guess, kindFrom: 'name' }
  // FRAME also names coordinate frames and counters, so a FRAME that is no kind is not worth a word.
  const strange = cards.find((card) => card.keyword.toUpperCase() !== 'FRAME')
  if (strange)
    resolve.unknown('kind', [strange], `${strange.keyword} is "${readWords(strange.value)}", which is no kind we know`)
  return { kind: 'unknown', kindFrom: 'header' }
}

/** A site at exactly 0°, 0° is one that was never set. */
function readSite(resolve: Resolver, rig: RigContext | null): Pick<Frame, 'siteLatDeg' | 'siteLongDeg'> {
  const lat = resolve.number('siteLatDeg')
  const long = resolve.number('siteLongDeg')
  const unset = lat === 0 && long === 0
  if (!unset && (lat !== null || long !== null))
    return { siteLatDeg: lat, siteLongDeg: long === null ? null : halfTurn(long) }
  return { siteLatDeg: rig?.site?.latDeg ?? null, siteLongDeg: rig?.site?.longDeg ?? null }
}

const turn = (deg: number) => Number((((deg % 360) + 360) % 360).toFixed(3)) % 360
const halfTurn = (deg: number) => Number((((((deg + 180) % 360) + 360) % 360) - 180).toFixed(6))

function readAside(resolve: Resolver, names: readonly string[], { asideWords }: FrameContext): string | null {
  const values = [...resolve.found('kind'), ...resolve.found('target')].map(({ keyword, value }) => ({
    keyword,
    value: readWords(value),
  }))
  return whyAside(names, values, asideWords)
}

/** Many frames in one file, by the words of the header's kind or of the file's name and folders. */
const namesMaster = (resolve: Resolver, names: readonly string[]): boolean =>
  resolve.found('kind').some((card) => saysMaster(readWords(card.value) ?? '')) || names.some(saysMaster)
