import type { Frame, Master } from '../contract/index.ts'
import { darkKey } from '../frame/keys.ts'
import { darksByKey } from '../match/dark-groups.ts'
import { obtain } from '../match/memo.ts'
import { isUsable } from '../match/raw.ts'
import { exposureCloseness, temperatureCloseness, temperatureOf } from '../match/tolerance.ts'
import { isMeasured, median } from './levels.ts'
import type { NightView } from './view.ts'

/** A covered run of tonight whose level is not that of the master of its own settings. */
export interface LevelStep {
  /** By how much it is brighter, ADU. */
  adu: number
  /** Start of its first frame (UTC). */
  at: string
}

/**
 * A step of the black level counts from one noise of a pixel and 9 ADU on: drivers move it by tens, and
 * the median of a 12-bit camera stored in 16 bits may be off by half a step, 8 ADU. Common practice, no source; a
 * check dark measures it far more finely.
 */
const leastNoises = 1
const leastAdu = 9

/** Where tonight's covered frames say that the black level has stepped since the masters were made: by dark key. */
export function levelSteps(view: NightView): ReadonlyMap<string, LevelStep> {
  const steps = new Map<string, LevelStep>()
  const runs = new Map<string, Frame[]>()
  for (const frame of view.state.frames)
    if ((frame.kind === 'dark' || frame.kind === 'darkFlat') && isUsable(frame) && isMeasured(frame))
      obtain(runs, `${darkKey(frame)}\u001f${frame.exposureS}`, () => []).push(frame)
  for (const frames of runs.values()) {
    const measured = frames.filter(isMeasured)
    const [first] = measured.sort((a, b) => ((a.startedAt ?? '') < (b.startedAt ?? '') ? -1 : 1))
    const master = first.startedAt === null ? null : masterOf(first, view)
    if (!master) continue
    const adu = median(measured.map((f) => f.figures.median)) - master.figures!.median
    const least = Math.max(leastAdu, leastNoises * median(measured.map((f) => f.figures.noise)))
    if (Math.abs(adu) > least) steps.set(darkKey(first), { adu, at: first.startedAt! })
  }
  return steps
}

/** The newest master of a covered frame's own settings, made before it and not from its run. */
function masterOf(frame: Frame, { state }: NightView): Master | null {
  const { tolerances } = state.match
  const [tempC, exposureS] = [temperatureOf(frame), frame.exposureS]
  if (tempC === null || exposureS === null) return null
  const fitting = (darksByKey(state.masters).get(darkKey(frame)) ?? []).filter(
    (m) =>
      (m.kind === 'dark' || m.kind === 'darkFlat') &&
      m.camera === frame.camera &&
      m.state === 'ready' &&
      m.figures !== null &&
      m.scale === 'adu' &&
      m.subtracted === 'none' &&
      m.exposureS !== null &&
      exposureCloseness(exposureS, m.exposureS, 0, tolerances) === 'within' &&
      temperatureOf(m) !== null &&
      temperatureCloseness(tempC, temperatureOf(m)!, tolerances) === 'within' &&
      (m.madeAt ?? '') < frame.startedAt! &&
      !m.sources.includes(frame.path),
  )
  return fitting.reduce<Master | null>((a, b) => (a && (a.madeAt ?? '') >= (b.madeAt ?? '') ? a : b), null)
}
