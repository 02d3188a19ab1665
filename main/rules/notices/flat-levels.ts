import { sayCount, sayExposure } from '../../match/wording.ts'
import {
  balanceOf,
  channelLevels,
  driftOf,
  isClipped,
  levelOf,
  sinceStep,
  tooNoisy,
  type RunLevel,
} from '../flat-run.ts'
import type { JudgedRun } from '../judged-runs.ts'
import { isMeasured, pedestalOf } from '../levels.ts'
import { leastFrames } from '../needs.ts'
import type { NightView } from '../view.ts'
import { draft, type Rule } from './draft.ts'

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
 * `flat-level`: the median of the latest flats is off the target by more than the class allows, their brightest channel out of the
 * straight part of the response, or their dimmest too noisy. Levels are fractions of full scale, less the black level.
 */
export const flatLevel: Rule = (view) =>
  flatRuns(view).flatMap((judged) => {
    if (judged.frames.filter(isMeasured).length < leastFrames) return []
    const level = levelOf(judged, view)
    const said = level && levelFault(judged, level)
    return said
      ? [draft(view, 'flat-level', [judged.run.id], { severity: 'beforeTeardown', ...said, frames: level.latest })]
      : []
  })

function levelFault(judged: JudgedRun, level: RunLevel) {
  const { now, limits, model, rules, pedestalAdu, aimAdu, advise } = level
  if (!level.isRight)
    return { text: `${nameOf(judged)} at ${sayAdu(now.medianAdu)} ADU: ${advise(aimAdu)}`, why: whyAim(level) }
  if (now.brightestAdu > limits.linearTopAdu)
    return {
      text: `${nameOf(judged)}: the brightest channel is at ${sayAdu(now.brightestAdu)} ADU`,
      why: `${rules.linearFraction.reason} To keep it there, ${advise(aimAdu)}; or balance the panel's colour.`,
    }
  const noisy = tooNoisy(level)
  if (!noisy) return null
  const room = noisy.enoughAdu <= pedestalAdu + (limits.linearTopAdu - pedestalAdu) / model.brightestShare
  return {
    text: `${nameOf(judged)}: the dimmest channel is too noisy`,
    why: `${rules.leastSnr.reason} ${room ? `At the least, ${advise(noisy.enoughAdu)}; or balance` : 'More light would take the brightest channel out of the linear range: balance'} the panel's colour.`,
  }
}

function whyAim({ aimAdu, fullAdu, rules, limits, model }: RunLevel): string {
  const limited = aimAdu < limits.targetAdu ? ' More would take the brightest channel out of the linear range.' : ''
  const from = model.fitted ? ` Reckoned from ${sayCount(model.fitted, 'flat')} at several exposures.` : ''
  return `Aim for ${sayAdu(aimAdu)} of ${sayAdu(fullAdu)}: ${rules.flatTargetAdu.reason}${limited}${from}`
}

/** `flat-clipped`: pixels at the upper end, more than hot ones. */
export const flatClipped: Rule = (view) =>
  flatRuns(view).flatMap((judged) => {
    const clipped = judged.frames.filter(isMeasured).filter(isClipped)
    if (!clipped.length) return []
    const isLatest = levelOf(judged, view)?.latest.some(isClipped)
    return [
      draft(view, 'flat-clipped', [judged.run.id], {
        severity: 'beforeTeardown',
        text: `${nameOf(judged)} are clipped: ${sayCount(clipped.length, 'flat')} of ${judged.run.frames}`,
        why: `Pixels at the end of the scale cannot correct anything. ${isLatest ? 'Dim the panel and shoot them again.' : 'The light was turned down since: shoot as many again, or set these aside.'}`,
        frames: clipped,
      }),
    ]
  })

/**
 * `flat-balance`: red or blue against green is off from that filter's accepted flats by 1.5 ×. The first flats of a filter have
 * nothing to be held against, and an uneven panel through a dual-band filter is as it should be.
 */
export const flatBalance: Rule = (view) =>
  flatRuns(view).flatMap((judged) => {
    const channels = channelLevels(judged.frames.filter(isMeasured))
    const off = balanceOf(channels, pedestalOf(judged, view), judged, view)?.find(({ isOff }) => isOff)
    if (!off) return []
    const { name, share, usual } = off
    return [
      draft(view, 'flat-balance', [judged.run.id], {
        severity: 'beforeTeardown',
        text: `${nameOf(judged)}: ${name} is ${share > usual! ? 'brighter' : 'dimmer'} than usual`,
        why: `${name === 'red' ? 'Red' : 'Blue'} against green is ${share.toFixed(2)}, in accepted flats of this filter ${usual!.toFixed(2)}: another light source, or another filter than the name says.`,
        frames: judged.frames,
      }),
    ]
  })

/** `flat-drift`: the level wanders over 3 % at one exposure. Quiet for the sky, and where the exposure follows the light. */
export const flatDrift: Rule = (view) =>
  flatRuns(view).flatMap((judged) => {
    const pedestal = pedestalOf(judged, view)
    const latest = sinceStep(judged.frames.filter(isMeasured), pedestal)
    const drift = driftOf(latest, pedestal, judged, view, leastFrames)
    if (!drift?.isFault) return []
    return [
      draft(view, 'flat-drift', [judged.run.id], {
        severity: 'beforeTeardown',
        text: `${nameOf(judged)}: the level wanders by ${Math.round(drift.wander * 100)} %`,
        why: 'At one exposure a panel should hold still: let it warm up, or look for stray light, and shoot them again.',
        frames: latest,
      }),
    ]
  })
