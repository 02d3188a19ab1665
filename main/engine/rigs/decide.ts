import { Refusal, type AsideReason, type Kind, type LightSource } from '../../contract/index.ts'
import { immediately } from '../../../db/handle.ts'
import { handOf, noHand, putHand, type Hand } from '../../../db/tables/frame-hands.ts'
import { frameIdentity } from '../../../db/tables/frames.ts'
import { sayKind } from '../../match/wording.ts'
import { instant } from '../clock.ts'
import type { Core } from '../core.ts'
import { createDescriber } from '../ingest/describer.ts'
import { remember } from '../undo.ts'
import { describeOne, rootsOf } from './describe-again.ts'
import { followFrames } from './follow-masters.ts'

type Decision = { frame: number; hand: Partial<Hand> }

/**
 * Keeps what a person decided about frames, all of them or none; it outlives every new reading of their headers.
 * @param said what was done, as a sentence; it can be taken back then
 * @returns how many are told differently now, and the step that takes it back
 */
export function decide(
  core: Core,
  ids: readonly number[],
  change: Partial<Hand>,
  said: string | null = null,
): { frames: number; step: number | null } {
  const { db } = core
  const frames = [...new Set(ids)]
  const outcome = immediately(db, () => {
    for (const id of frames) if (!frameIdentity(db, id)) throw new Refusal(`There is no frame ${id} in the log.`)
    const hands = frames.map((frame) => ({ frame, hand: handOf(db, frame) ?? noHand }))
    const changed = keep(
      core,
      frames.map((frame) => ({ frame, hand: change })),
    )
    const step = said !== null && changed > 0 ? remember(core, said, { do: 'decide', hands }) : null
    return { frames: changed, step }
  })
  if (outcome.frames > 0) {
    core.judging.forget()
    core.changed('night', ...(change.lightSource === undefined ? (['settings'] as const) : (['library'] as const)))
  }
  return outcome
}

/** What was decided before, again; inside the caller's transaction. Frames that are in the log no more are passed over. */
export function takeBackDecisions(core: Core, hands: readonly Decision[]): void {
  keep(
    core,
    hands.filter(({ frame }) => frameIdentity(core.db, frame)),
  )
  core.judging.forget()
}

/** @returns how many are told differently now */
function keep({ db, clock, zone }: Core, decisions: readonly Decision[]): number {
  const describe = createDescriber(db, zone)
  const roots = rootsOf(db)
  const changed = new Set<number>()
  for (const { frame, hand } of decisions) {
    putHand(db, frame, hand, instant(clock))
    if (describeOne(db, frame, describe, roots)) changed.add(frame)
  }
  // Masters say what lit their frames.
  if (decisions.some(({ hand }) => hand.lightSource !== undefined)) followFrames(db, changed)
  return changed.size
}

const sayFrames = (count: number) => (count === 1 ? '1 frame' : `${count} frames`)
const was = (count: number) => (count === 1 ? 'was' : 'were')

export const saidAside = (count: number, why: AsideReason | null): string =>
  `${sayFrames(count)} ${was(count)} set aside${why ? `: ${why}` : ''}.`

export const saidBack = (count: number): string => `${sayFrames(count)} ${was(count)} put back among those that count.`

export const saidLit = (count: number, source: LightSource | null): string =>
  source
    ? `${sayFrames(count)} ${was(count)} said to be lit by: ${source}.`
    : `What lit ${sayFrames(count)} is again what the header says.`

export const saidKind = (count: number, kind: Kind | null): string =>
  kind
    ? `${sayFrames(count)} ${was(count)} said to be of the kind ${sayKind(kind)}.`
    : `The kind of ${sayFrames(count)} is again what the header says.`
