import type { Figures, SensorRules } from '../contract/index.ts'
import { compareField } from '../frame/keys.ts'
import { adviseLevel, aimOf, modelLevels, type FlatLevel, type LevelLimits, type LevelModel } from './flat-advice.ts'
import type { JudgedRun } from './judged-runs.ts'
import { fullScaleOf, isMeasured, median, pedestalOf, type Measured } from './levels.ts'
import type { NightView } from './view.ts'

/** From one flat to the next, a level that steps by more than this fraction was stepped: a dimmer was turned. */
const stepFraction = 0.08
/** Flats of one filter this close together belong to one session, s. */
const sessionS = 3600

/** The level of a run's latest flats against what the sensor's rules ask for. ADU, as stored. */
export interface RunLevel {
  /** Since the level last stepped, in order of time; at least one. */
  latest: readonly Measured[]
  now: FlatLevel
  channels: ChannelLevels | null
  pedestalAdu: number
  fullAdu: number
  model: LevelModel
  limits: LevelLimits
  rules: SensorRules
  /** The level to aim for. */
  aimAdu: number
  isRight: boolean
  /** What brings the median to a level. */
  advise(aimAdu: number): string
}

/** Medians of the colours, pedestal in. */
export type ChannelLevels = Record<'R' | 'G' | 'B', number>

/**
 * Judged are the latest flats, since the level last stepped: whoever turns a dimmer sees at the next frame whether it is right.
 * @returns null while no flat of the run is measured
 */
export function levelOf(judged: JudgedRun, view: NightView): RunLevel | null {
  const measured = judged.frames.filter(isMeasured)
  if (measured.length === 0) return null
  const rules = view.rulesOf(judged.run)
  const pedestalAdu = pedestalOf(judged, view)
  const fullAdu = fullScaleOf(judged.run.camera, view)
  const latest = sinceStep(measured, pedestalAdu)
  const level = median(latest.map((f) => f.figures.median))
  const channels = channelLevels(latest)
  const now = {
    exposureS: judged.run.exposureS,
    medianAdu: level,
    brightestAdu: Math.max(level, ...Object.values(channels ?? {})),
  }
  const model = modelLevels(sameLight(judged, latest, view), now, { pedestalAdu, fullAdu })
  const limits: LevelLimits = {
    targetAdu: pedestalAdu + (rules.flatTargetAdu.value / 65_535) * (fullAdu - pedestalAdu),
    linearTopAdu: rules.linearFraction.value * fullAdu,
    floorS: rules.floorS.value,
  }
  const aimAdu = aimOf(model, limits)
  const isRight = Math.abs(level - aimAdu) <= rules.flatToleranceFraction.value * (aimAdu - pedestalAdu)
  const advise = (aim: number) => adviseLevel(now, model, aim, limits)
  return { latest, now, channels, pedestalAdu, fullAdu, model, limits, rules, aimAdu, isRight, advise }
}

/** The last of these flats between which the level did not step. */
export function sinceStep(measured: readonly Measured[], pedestalAdu: number): readonly Measured[] {
  const net = (flat: Measured) => flat.figures.median - pedestalAdu
  let from = measured.length - 1
  while (from > 0 && !(Math.abs(net(measured[from - 1]) / net(measured[from]) - 1) > stepFraction)) from--
  return measured.slice(from)
}

/** Medians of each colour over these flats; null for mono. */
export function channelLevels(measured: readonly { figures: Figures }[]): ChannelLevels | null {
  const of = (channel: 'R' | 'G' | 'B') => measured.flatMap((f) => f.figures.channels?.[channel].median ?? [])
  const levels = { R: of('R'), G: of('G'), B: of('B') }
  return levels.G.length === 0 ? null : { R: median(levels.R), G: median(levels.G), B: median(levels.B) }
}

/** Settings that decide what level a light gives. */
const levelFields = ['camera', 'gain', 'offset', 'binning', 'readout', 'rig', 'filter'] as const

/**
 * All measured flats of this filter, camera and settings in the session, whatever their exposure: trial ones too. Of the run
 * itself only the latest: the light was another before.
 */
const sameLight = (judged: JudgedRun, latest: readonly Measured[], view: NightView): FlatLevel[] =>
  sessionOf(judged, view)
    .filter(({ run }) => levelFields.every((field) => run[field] === judged.run[field]))
    .flatMap((other) => (other === judged ? latest : other.frames.filter(isMeasured)))
    .map((frame) => ({
      exposureS: frame.exposureS,
      medianAdu: frame.figures.median,
      brightestAdu: Math.max(frame.figures.median, ...Object.values(channelLevels([frame]) ?? {})),
    }))

/** Runs of flats through this filter within an hour of this one, itself among them. */
export function sessionOf({ run }: JudgedRun, view: NightView): JudgedRun[] {
  const [from, to] = [Date.parse(run.firstAt ?? '') - sessionS * 1000, Date.parse(run.lastAt ?? '') + sessionS * 1000]
  return view.runs
    .filter((r) => r.run.kind === 'flat' && r.run.filter === run.filter && r.run.rig === run.rig)
    .filter((r) => Date.parse(r.run.firstAt ?? '') <= to && Date.parse(r.run.lastAt ?? '') >= from)
}

/** Signal-to-noise of the dimmest colour, and the level of the median that would bring it to the least; null where it is enough. */
export function tooNoisy({ latest, now, channels, pedestalAdu, rules }: RunLevel): { enoughAdu: number } | null {
  const perAdu = latest[0].electronsPerAdu
  const dimmest = Math.min(now.medianAdu, ...Object.values(channels ?? {})) - pedestalAdu
  if (perAdu === null || !(dimmest > 0) || Math.sqrt(dimmest * perAdu) >= rules.leastSnr.value) return null
  const share = rules.leastSnr.value ** 2 / (dimmest * perAdu)
  return { enoughAdu: pedestalAdu + (now.medianAdu - pedestalAdu) * share }
}

/** A channel may be this many times off its usual share before anyone speaks up. */
const balanceFactor = 1.5

export interface Balance {
  name: 'red' | 'blue'
  /** Against green, pedestal off both. */
  share: number
  /** The median of that filter's accepted flats; null where there are none. */
  usual: number | null
  isOff: boolean
}

/** Red and blue against green; null for mono, or without light. */
export function balanceOf(channels: ChannelLevels | null, pedestalAdu: number, { run }: JudgedRun, view: NightView) {
  const net = channels && { R: channels.R - pedestalAdu, G: channels.G - pedestalAdu, B: channels.B - pedestalAdu }
  if (!net || !(net.G > 0)) return null
  const accepted = (view.state.acceptedFlats ?? []).filter(
    (a) =>
      a.camera === run.camera &&
      a.filter === run.filter &&
      (a.rig === null || a.rig === run.rig) &&
      (['body', 'train'] as const).every((f) => a[f] === undefined || compareField(a[f], run[f]) === 'equal'),
  )
  const usualOf = (channel: 'R' | 'B') =>
    accepted.length
      ? median(accepted.map((a) => (a.channels[channel] - a.pedestal) / (a.channels.G - a.pedestal)))
      : null
  const of = (name: Balance['name'], channel: 'R' | 'B'): Balance => {
    const [share, usual] = [net[channel] / net.G, usualOf(channel)]
    return {
      name,
      share,
      usual,
      isOff: usual !== null && (share > usual * balanceFactor || share < usual / balanceFactor),
    }
  }
  return [of('red', 'R'), of('blue', 'B')]
}

/** More clipped pixels than this are no hot pixels: one in ten thousand. */
const clippedFraction = 1e-4
export const isClipped = ({ figures: f }: { figures: Figures }) => f.clippedHigh > clippedFraction * f.width * f.height

/** A panel's level may wander by this fraction within a run. */
const driftFraction = 0.03
/** Twilight changes faster than any panel warms up: 10 × in about half an hour is 8 % a minute (common practice, no source). */
const skyPerMinute = 0.04

/** How far the level wanders, as a fraction, and whether that is a fault; null with fewer than `least` dated flats. */
export function driftOf(
  latest: readonly Measured[],
  pedestalAdu: number,
  judged: JudgedRun,
  view: NightView,
  least: number,
): { wander: number; isFault: boolean } | null {
  const dated = latest.filter((f) => f.startedAt !== null)
  if (dated.length < least) return null
  const levels = dated.map((f) => f.figures.median - pedestalAdu)
  const wander = (Math.max(...levels) - Math.min(...levels)) / median(levels)
  const follows = isSky(judged, dated, levels) || isAutoExposed(judged, view)
  return { wander, isFault: wander > driftFraction && !follows }
}

/** Other flats through this filter in the same session have other exposures: the program follows the light. */
const isAutoExposed = (judged: JudgedRun, view: NightView) =>
  new Set(sessionOf(judged, view).map((r) => r.run.exposureS)).size >= 3

/** As it was said; else, the sky is what brightens or dims all the way, and fast. */
function isSky({ run }: JudgedRun, measured: readonly Measured[], levels: readonly number[]): boolean {
  if (run.lightSource) return run.lightSource === 'sky'
  const minutes = (Date.parse(measured.at(-1)?.startedAt ?? '') - Date.parse(measured[0].startedAt ?? '')) / 60_000
  if (!(minutes > 0)) return false
  const [first, last] = [levels[0], levels[levels.length - 1]]
  const rate = Math.abs(Math.log(last / first)) / minutes
  const steps = levels.slice(1).map((level, i) => Math.sign(level - levels[i]))
  const along = steps.filter((step) => step === Math.sign(last - first)).length
  return rate >= skyPerMinute && along >= 0.8 * steps.length
}
