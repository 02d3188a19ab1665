import {
  NEEDS,
  VERDICTS,
  type Frame,
  type Run,
  type RunVerdict,
  type Verdict,
  type Verdicts,
} from '../contract/index.ts'
import { groupRuns } from '../frame/runs.ts'
import type { Judge } from '../match/context.ts'
import { isWhole } from '../match/raw.ts'

/** A run with its frames in order of time, and each frame's verdicts. */
export interface JudgedRun {
  run: Run
  frames: Frame[]
  verdicts: Verdicts[]
}

/** The runs of a night. Broken, missing and integrated files are in no run: nothing can be made of them. */
export function judgeRuns(frames: readonly Frame[], night: string, judge: Judge): JudgedRun[] {
  const whole = frames.filter(isWhole)
  const byId = new Map(whole.map((frame) => [frame.id, frame]))
  return groupRuns(whole)
    .filter((run) => run.night === night)
    .map((run) => {
      const own = run.frameIds.flatMap((id) => byId.get(id) ?? [])
      const verdicts = own.map((frame) => judge(frame, run.sensorTempC))
      return { run: { ...run, verdicts: worstOf(verdicts) }, frames: own, verdicts }
    })
}

/** A run's verdict is its worst frame's (the first such), with the count of each word. */
function worstOf(all: readonly Verdicts[]): Run['verdicts'] {
  const worst: Run['verdicts'] = {}
  for (const need of NEEDS) {
    const verdicts = all.flatMap((v) => v[need] ?? [])
    if (verdicts.length) worst[need] = worstVerdict(verdicts)
  }
  return worst
}

function worstVerdict(verdicts: readonly Verdict[]): RunVerdict {
  let worst = verdicts[0]
  const counts: RunVerdict['counts'] = {}
  for (const verdict of verdicts) {
    counts[verdict.verdict] = (counts[verdict.verdict] ?? 0) + 1
    if (isWorse(verdict, worst)) worst = verdict
  }
  return { ...worst, counts }
}

export const isWorse = (a: Verdict, b: Verdict) => VERDICTS.indexOf(a.verdict) > VERDICTS.indexOf(b.verdict)
