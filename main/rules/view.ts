import type { Frame, Master, SensorRules } from '../contract/index.ts'
import type { Judge } from '../match/context.ts'
import { createJudge } from '../match/judge.ts'
import { isUsable } from '../match/raw.ts'
import { findTwins } from '../match/twins.ts'
import { defaultReadoutS, learnedReadoutS } from './cadence.ts'
import { watchCooling, type Cooling } from './cooling.ts'
import { judgeRuns, type JudgedRun } from './judged-runs.ts'
import { findNeeds, type Need } from './needs.ts'
import { readClock, type NightClock } from './night-clock.ts'
import type { NightState } from './state.ts'
import { obtain, onceFor } from '../match/memo.ts'

/** What every rule looks at: the state of the night with the facts that follow from it, each worked out once. */
export interface NightView {
  state: NightState
  clock: NightClock
  judge: Judge
  runs: JudgedRun[]
  needs: Need[]
  masters: ReadonlyMap<number, Master>
  /** Frames of each rig (null: of none that is known), all that are whole or not, in order of time. */
  byRig: ReadonlyMap<string | null, Frame[]>
  cooling: ReadonlyMap<string | null, Cooling>
  rulesOf(frame: { camera: string | null }): SensorRules
  /** Seconds from the end of an exposure to the start of the next, and whether tonight has shown it or it is assumed. */
  readoutOf(rig: string | null): { seconds: number; learned: boolean }
}

export function lookAt(given: NightState): NightView {
  const state = withTwins(given)
  const judge = createJudge(state.masters, state.match)
  const runs = judgeRuns([...state.frames, ...(state.overNoon ?? [])], state.night, judge)
  const built = builtInto(state.masters)
  const byRig = new Map<string | null, Frame[]>()
  for (const frame of [...state.frames].sort(byTime)) obtain(byRig, frame.rig, () => []).push(frame)
  const { tempC } = state.match.tolerances
  const cooling = new Map([...byRig].map(([rig, frames]) => [rig, watchCooling(frames, tempC)]))
  const readouts = new Map<string | null, number | null>()
  for (const [rig, frames] of byRig) readouts.set(rig, learnedReadoutS(frames.filter(isUsable)))
  return {
    state,
    clock: readClock(state),
    judge,
    runs,
    needs: findNeeds(runs, judge, state.match, {
      isBuilt: (frame) => built.has(frame.path),
      isSettling: (frame) => cooling.get(frame.rig)?.settling.has(frame.id) ?? false,
      isCooled: (frame) => cooling.get(frame.rig)?.cooled ?? false,
    }),
    cooling,
    masters: byId(state.masters),
    byRig,
    rulesOf: ({ camera }) => state.match.sensorRules(camera),
    readoutOf: (rig) => {
      const seconds = readouts.get(rig) ?? null
      return seconds === null ? { seconds: defaultReadoutS, learned: false } : { seconds, learned: true }
    },
  }
}

const byId = onceFor(
  (masters: readonly Master[]): ReadonlyMap<number, Master> => new Map(masters.map((m) => [m.id, m])),
)

/** Paths of flats that a finished master was made from. */
const builtInto = onceFor(
  (masters: readonly Master[]): ReadonlySet<string> =>
    new Set(
      masters
        .filter((m) => m.kind === 'flat' && m.state === 'ready' && m.subtracted !== 'none')
        .flatMap((m) => m.sources),
    ),
)

/** Two bodies of one model show themselves in the night's own frames, whatever the caller knew of them. */
function withTwins(state: NightState): NightState {
  const twins = [...new Set([...(state.match.twins ?? []), ...findTwins(state.frames)])]
  return twins.length ? { ...state, match: { ...state.match, twins } } : state
}

const byTime = (a: Frame, b: Frame) => {
  const [left, right] = [a.startedAt ?? '\uffff', b.startedAt ?? '\uffff']
  return left < right ? -1 : left > right ? 1 : a.id - b.id
}
