import type { Frame, Tonight } from '../../contract/index.ts'
import { groupTempC, numberInNight } from '../../../db/tables/frames.ts'
import type { Core } from '../core.ts'

const startOf = (frame: Frame) => frame.startedAt ?? ''
const isBefore = (a: Frame, b: Frame) => (startOf(a) === startOf(b) ? a.id < b.id : startOf(a) < startOf(b))

/** The frame that was taken last on each rig, with its verdicts and its number in the night. */
export function latestOfRigs(core: Core, frames: readonly Frame[]): Tonight['latest'] {
  const last = new Map<string | null, Frame>()
  for (const frame of frames) {
    if (frame.state === 'gone') continue
    const before = last.get(frame.rig)
    if (!before || isBefore(before, frame)) last.set(frame.rig, frame)
  }
  core.judging.expect([...last.values()])
  return [...last].map(([rig, frame]) => ({
    rig,
    frame,
    verdicts: core.judging.verdicts(frame, groupTempC(core.db, frame)),
    number: numberInNight(core.db, frame),
  }))
}
