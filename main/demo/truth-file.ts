import { expectedRuns } from './expected.ts'
import { shelf, takenAtMs } from './library.ts'
import type { PlannedFrame } from './plan.ts'
import { larkfield, site, targets } from './rig.ts'
import { heron11c } from './sensor.ts'
import { mistakes, story, type MistakeName } from './story.ts'

/** What makes two demo nights the same, byte for byte. */
export interface NightIdentity {
  night: string
  seed: number
  width: number
  height: number
}

/** The ground truth of a demo night as one JSON document: what was planted, and what a checker should say about it. */
export function truthOf(identity: NightIdentity, plan: PlannedFrame[]) {
  return {
    about:
      'Ground truth of a simulated night. Nothing in it is real; "mistakes" names what was planted and the rule for it.',
    demoNight: identity,
    story: story.map(({ at, tells }) => `${at}  ${tells}`),
    site,
    sensor: heron11c,
    train: larkfield,
    mistakes: (Object.keys(mistakes) as MistakeName[]).map((name) => ({
      name,
      ...mistakes[name],
      frames: plan.filter((frame) => frame.mistakes.includes(name)).map((frame) => frame.path),
    })),
    expected: expectedRuns,
    library: shelf.map((master) => ({ ...master, takenAt: new Date(takenAtMs(master, identity.night)).toISOString() })),
    frames: plan.map((frame) => ({
      path: frame.path,
      kind: frame.kind,
      aside: frame.aside,
      target: frame.target && targets[frame.target].name,
      ...frame.settings,
      exposureS: frame.exposureS,
      sensorTempC: frame.sensorTempC,
      startedAt: new Date(frame.startedAtMs).toISOString(),
      levelAdu: frame.levelAdu,
      pointing: frame.pointing,
      writtenFraction: frame.writtenFraction,
      mistakes: frame.mistakes,
    })),
  }
}
export type Truth = ReturnType<typeof truthOf>
