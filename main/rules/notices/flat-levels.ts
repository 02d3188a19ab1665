import type { SensorRules } from '../../contract/index.ts'
import { compareField } from '../../frame/keys.ts'
import { sayCount, sayExposure } from '../../match/wording.ts'
import { adviseLevel, aimOf, modelLevels, type FlatLevel, type LevelLimits, type LevelModel } from '../flat-advice.ts'
import { fullScaleOf, isMeasured, median, pedestalOf, type Measured } from '../levels.ts'
import type { JudgedRun } from '../judged-runs.ts'
import { leastFrames } from '../needs.ts'
import type { NightView } from '../view.ts'
import { draft, type Draft, type Rule } from './draft.ts'

/** Flats that were just begun, or tried, are no run yet. */
const flatRuns = (view: NightView) =>
  view.runs.filter(({ run }) => run.kind === 'flat' && !run.aside && run.frames >= leastFrames)

const nameOf = ({ run }: JudgedRun) => (run.filter ? `${run.filter} flats` : 'Flats')
const adu = (level: number) => Math.round(level / 100) * 100
const sayAdu = (level: number) => adu(level).toLocaleString('en-GB').replaceAll(',', ' ')

/** `flat-short`: below the floor of the sensor's class. Quiet where the class has none. */
export const flatShort: Rule = (view) =>
  flatRuns(view).flatMap(({ run, frames }) => {
    const floor = view.rulesOf(run).floorS
    if (run.exposureS === null || run.exposureS >= floor.value - 1e-6) return []
    return [
      draft(view, 'flat-short', [run.id], {
        severity: 'beforeTeardown',
        text: `${run.filter ? `${run.filter} flats` : 'Flats'} of ${sayExposure(run.exposureS)}: too short for this sensor`,
        why: `Its floor is ${sayExposure(floor.value)}: ${floor.reason} Dim the panel and shoot them longer.`,
        frames,
      }),
    ]
  })

/**
 * `flat-level`: the run's median is off the target by more than the class allows, its brightest channel out of the straight part
 * of the response, or its dimmest too noisy. Levels are fractions of full scale, less the black level.
 */
export const flatLevel: Rule = (view) =>
  flatRuns(view).flatMap((judged) => {
    const measured = judged.frames.filter(isMeasured)
    if (measured.length < leastFrames) return []
    const said = levelFault(judged, measured, view)
    return said
      ? [draft(view, 'flat-level', [judged.run.id], { severity: 'beforeTeardown', ...said, frames: measured })]
      : []
  })

function levelFault(judged: JudgedRun, measured: readonly Measured[], view: NightView) {
  const { run } = judged
  const rules = view.rulesOf(run)
  const pedestal = pedestalOf(judged, view)
  const full = fullScaleOf(run.camera, view)
  const level = median(measured.map((f) => f.figures.median))
  const channels = channelLevels(measured)
  const now = { exposureS: run.exposureS, medianAdu: level, brightestAdu: Math.max(level, ...channels) }
  const model = modelLevels(sameLight(judged, view), now, { pedestalAdu: pedestal, fullAdu: full })
  const limits: LevelLimits = {
    targetAdu: pedestal + (rules.flatTargetAdu.value / 65_535) * (full - pedestal),
    linearTopAdu: rules.linearFraction.value * full,
    floorS: rules.floorS.value,
  }
  const aim = aimOf(model, limits)
  const advise = (aimAdu: number) => adviseLevel(now, model, aimAdu, limits)
  if (Math.abs(level - aim) > rules.flatToleranceFraction.value * (aim - pedestal))
    return {
      text: `${nameOf(judged)} at ${sayAdu(level)} ADU: ${advise(aim)}`,
      why: whyAim(aim, full, rules, limits, model),
    }
  if (now.brightestAdu > limits.linearTopAdu)
    return {
      text: `${nameOf(judged)}: the brightest channel is at ${sayAdu(now.brightestAdu)} ADU`,
      why: `${rules.linearFraction.reason} To keep it there, ${advise(aim)}; or balance the panel's colour.`,
    }
  const perAdu = measured[0].electronsPerAdu
  const dimmest = Math.min(level, ...channels) - pedestal
  if (perAdu === null || !(dimmest > 0) || Math.sqrt(dimmest * perAdu) >= rules.leastSnr.value) return null
  const enough = pedestal + ((level - pedestal) * rules.leastSnr.value ** 2) / (dimmest * perAdu)
  const room = enough <= pedestal + (limits.linearTopAdu - pedestal) / model.brightestShare
  return {
    text: `${nameOf(judged)}: the dimmest channel is too noisy`,
    why: `${rules.leastSnr.reason} ${room ? `At the least, ${advise(enough)}; or balance` : 'More light would take the brightest channel out of the linear range: balance'} the panel's colour.`,
  }
}

function whyAim(aim: number, full: number, rules: SensorRules, limits: LevelLimits, model: LevelModel): string {
  const limited = aim < limits.targetAdu ? ' More would take the brightest channel out of the linear range.' : ''
  const from = model.fitted ? ` Reckoned from ${sayCount(model.fitted, 'flat')} at several exposures.` : ''
  return `Aim for ${sayAdu(aim)} of ${sayAdu(full)}: ${rules.flatTargetAdu.reason}${limited}${from}`
}

/** Settings that decide what level a light gives. */
const levelFields = ['camera', 'gain', 'offset', 'binning', 'readout', 'rig', 'filter'] as const

/** All measured flats of this filter, camera and settings in the session, whatever their exposure: trial ones too. */
const sameLight = (judged: JudgedRun, view: NightView): FlatLevel[] =>
  sessionOf(judged, view)
    .filter(({ run }) => levelFields.every((field) => run[field] === judged.run[field]))
    .flatMap(({ frames }) => frames.filter(isMeasured))
    .map((frame) => ({
      exposureS: frame.exposureS,
      medianAdu: frame.figures.median,
      brightestAdu: Math.max(frame.figures.median, ...channelLevels([frame])),
    }))

function channelLevels(measured: readonly Measured[]): number[] {
  return (['R', 'G', 'B'] as const).flatMap((channel) => {
    const levels = measured.flatMap((f) => f.figures.channels?.[channel].median ?? [])
    return levels.length ? [median(levels)] : []
  })
}

/** More clipped pixels than this are no hot pixels: one in ten thousand. */
const clippedFraction = 1e-4

/** `flat-clipped`: pixels at the upper end, more than hot ones. */
export const flatClipped: Rule = (view) =>
  flatRuns(view).flatMap((judged) => {
    const clipped = judged.frames
      .filter(isMeasured)
      .filter(({ figures: f }) => f.clippedHigh > clippedFraction * f.width * f.height)
    if (!clipped.length) return []
    return [
      draft(view, 'flat-clipped', [judged.run.id], {
        severity: 'beforeTeardown',
        text: `${nameOf(judged)} are clipped: ${sayCount(clipped.length, 'flat')} of ${judged.run.frames}`,
        why: 'Pixels at the end of the scale cannot correct anything. Dim the panel and shoot them again.',
        frames: clipped,
      }),
    ]
  })

/** A channel may be this many times off its usual share before anyone speaks up. */
const balanceFactor = 1.5

/**
 * `flat-balance`: red or blue against green is off from that filter's accepted flats by 1.5 ×. The first flats of a filter have
 * nothing to be held against, and an uneven panel through a dual-band filter is as it should be.
 */
export const flatBalance: Rule = (view) =>
  flatRuns(view).flatMap((judged) => {
    const { run } = judged
    const accepted = (view.state.acceptedFlats ?? []).filter(
      (a) =>
        a.camera === run.camera &&
        a.filter === run.filter &&
        (a.rig === null || a.rig === run.rig) &&
        (['body', 'train'] as const).every((f) => a[f] === undefined || compareField(a[f], run[f]) === 'equal'),
    )
    const pedestal = pedestalOf(judged, view)
    const [r, g, b] = channelLevels(judged.frames.filter(isMeasured)).map((level) => level - pedestal)
    if (!accepted.length || b === undefined || !(g > 0)) return []
    const off = [
      { name: 'red', share: r / g, usual: median(accepted.map((a) => share(a, 'R'))) },
      { name: 'blue', share: b / g, usual: median(accepted.map((a) => share(a, 'B'))) },
    ].filter(({ share, usual }) => share > usual * balanceFactor || share < usual / balanceFactor)
    if (!off.length) return []
    const [{ name, share: now, usual }] = off
    return [
      draft(view, 'flat-balance', [run.id], {
        severity: 'beforeTeardown',
        text: `${nameOf(judged)}: ${name} is ${now > usual ? 'brighter' : 'dimmer'} than usual`,
        why: `${name === 'red' ? 'Red' : 'Blue'} against green is ${now.toFixed(2)}, in accepted flats of this filter ${usual.toFixed(2)}: another light source, or another filter than the name says.`,
        frames: judged.frames,
      }),
    ]
  })

const share = (flat: { channels: Record<'R' | 'G' | 'B', number>; pedestal: number }, channel: 'R' | 'B') =>
  (flat.channels[channel] - flat.pedestal) / (flat.channels.G - flat.pedestal)

/** A panel's level may wander by this fraction within a run. */
const driftFraction = 0.03
/** Twilight changes faster than any panel warms up: 10 × in about half an hour is 8 % a minute (common practice, no source). */
const skyPerMinute = 0.04
/** Flats of one filter this close together belong to one session, s. */
const sessionS = 3600

/** `flat-drift`: the level wanders over 3 % at one exposure. Quiet for the sky, and where the exposure follows the light. */
export const flatDrift: Rule = (view) => {
  const runs = flatRuns(view)
  return runs.flatMap((judged): Draft[] => {
    const measured = judged.frames.filter(isMeasured).filter((f) => f.startedAt !== null)
    if (measured.length < leastFrames || isAutoExposed(judged, view)) return []
    const pedestal = pedestalOf(judged, view)
    const levels = measured.map((f) => f.figures.median - pedestal)
    const wander = (Math.max(...levels) - Math.min(...levels)) / median(levels)
    if (!(wander > driftFraction) || isSky(measured, levels)) return []
    return [
      draft(view, 'flat-drift', [judged.run.id], {
        severity: 'beforeTeardown',
        text: `${nameOf(judged)}: the level wanders by ${Math.round(wander * 100)} %`,
        why: 'At one exposure a panel should hold still: let it warm up, or look for stray light, and shoot them again.',
        frames: measured,
      }),
    ]
  })
}

/** Other flats through this filter in the same session have other exposures: the program follows the light. */
const isAutoExposed = (judged: JudgedRun, view: NightView) =>
  new Set(sessionOf(judged, view).map((r) => r.run.exposureS)).size >= 3

/** Runs of flats through this filter within an hour of this one, itself among them. */
function sessionOf({ run }: JudgedRun, view: NightView): JudgedRun[] {
  const [from, to] = [Date.parse(run.firstAt ?? '') - sessionS * 1000, Date.parse(run.lastAt ?? '') + sessionS * 1000]
  return view.runs
    .filter((r) => r.run.kind === 'flat' && r.run.filter === run.filter && r.run.rig === run.rig)
    .filter((r) => Date.parse(r.run.firstAt ?? '') <= to && Date.parse(r.run.lastAt ?? '') >= from)
}

/** The sky brightens or dims all the way, and fast. */
function isSky(measured: readonly Measured[], levels: readonly number[]): boolean {
  const minutes = (Date.parse(measured.at(-1)?.startedAt ?? '') - Date.parse(measured[0].startedAt ?? '')) / 60_000
  if (!(minutes > 0)) return false
  const [first, last] = [levels[0], levels[levels.length - 1]]
  const rate = Math.abs(Math.log(last / first)) / minutes
  const steps = levels.slice(1).map((level, i) => Math.sign(level - levels[i]))
  const along = steps.filter((step) => step === Math.sign(last - first)).length
  return rate >= skyPerMinute && along >= 0.8 * steps.length
}
