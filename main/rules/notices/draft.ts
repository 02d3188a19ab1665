import type { Frame, RuleName, Urgency } from '../../contract/index.ts'
import { nameCause } from '../identity.ts'
import type { NightView } from '../view.ts'

/** A notice as a rule writes it; `assess` adds when it opened, whether it was acknowledged and whether it sounds. */
export interface Draft {
  id: string
  rule: RuleName
  severity: Urgency
  text: string
  why: string
  frames: number
  frameIds: number[]
  master?: number
}

/** A rule looks at the night and says what there is to say: nothing, most nights. */
export type Rule = (view: NightView) => Draft[]

/** @param cause what it is about: the same cause in the same night keeps its id, however many frames it comes to cover */
export function draft(
  view: NightView,
  rule: RuleName,
  cause: readonly (string | number | null | undefined)[],
  said: { severity: Urgency; text: string; why: string; frames?: readonly Frame[]; master?: number },
): Draft {
  const frames = said.frames ?? []
  return {
    id: nameCause(rule, view.state.night, ...cause),
    rule,
    severity: said.severity,
    text: said.text,
    why: said.why,
    frames: frames.length,
    frameIds: frames.map((f) => f.id),
    ...(said.master !== undefined && { master: said.master }),
  }
}
