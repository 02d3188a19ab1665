import { Refusal, type LightSource, type Master, type UndoStep } from '../contract/index.ts'
import { immediately } from '../../db/handle.ts'
import { undoCheck } from '../../db/tables/checks.ts'
import type { Hand } from '../../db/tables/frame-hands.ts'
import { forgetMaster, restoreMaster, retireMaster, setProven, setTold } from '../../db/tables/masters.ts'
import type { RigSpan } from '../../db/tables/rigs.ts'
import { redoTrainChange, undoTrainChange } from '../../db/tables/train-changes.ts'
import { markUndone, putUndoStep, undoSteps as stored, type StoredStep } from '../../db/tables/undo-steps.ts'
import { instant } from './clock.ts'
import type { Core } from './core.ts'
import { dropThumbnail } from './files/thumbnails.ts'
import { putLight } from './library/tell-light.ts'
import { takeBackDecisions } from './rigs/decide.ts'
import { describeAgain } from './rigs/describe-again.ts'
import { refreshEpochs } from './rigs/follow-masters.ts'
import { spansOf } from './rigs/list.ts'
import { putSpans, rename } from './rigs/tell-rig.ts'

/** What was done, with all that its way back needs. */
export type Done =
  | { do: 'retire' | 'restore' | 'add' | 'build'; master: number }
  /** `before`: when it was last proven until then. */
  | { do: 'prove'; master: number; check: number; before: string | null }
  | { do: 'tell'; master: number; before: Pick<Master, 'path' | 'scale' | 'subtracted' | 'frames'> }
  /** `before`: what was said of it until then. */
  | { do: 'light'; master: number; before: LightSource | null }
  | { do: 'rig'; name: string; spans: readonly RigSpan[] }
  | { do: 'rename'; from: string; to: string }
  | { do: 'change' | 'change back'; change: number }
  /** What was decided of these frames until then. */
  | { do: 'decide'; hands: readonly { frame: number; hand: Hand }[] }

const DAY_MS = 86_400_000
const KEPT_DAYS = 30

const sinceWhen = ({ clock }: Core) => new Date(clock.now().getTime() - KEPT_DAYS * DAY_MS).toISOString()

/** Keeps the way back of something, in the transaction that does it. @param text what was done, as a sentence */
export const remember = (core: Core, text: string, done: Done): number =>
  putUndoStep(core.db, { at: instant(core.clock), text, back: JSON.stringify(done) }, sinceWhen(core))

const toStep = ({ id, at, text, undoneAt, back }: StoredStep): UndoStep => ({
  id,
  at,
  text,
  undoneAt,
  of: whatOf(JSON.parse(back) as Done),
})

const whatOf = (done: Done): UndoStep['of'] => ('master' in done ? 'library' : 'hands' in done ? 'frame' : 'rig')

/** What can be taken back, or was, newest first. */
export const undoSteps = (core: Core): UndoStep[] => stored(core.db, sinceWhen(core)).map(toStep)

/**
 * Takes a step back: the one named, or the newest that was not. A step can be taken back whatever came after it, as long as what
 * it speaks of is still there.
 * @throws Refusal, with everything as it was
 */
export async function undo(core: Core, id: number | undefined): Promise<UndoStep> {
  const { db, clock } = core
  const step = immediately(db, () => {
    const steps = stored(db, sinceWhen(core))
    const step = id === undefined ? steps.find((one) => one.undoneAt === null) : steps.find((one) => one.id === id)
    if (!step)
      throw new Refusal(
        id === undefined ? 'There is nothing to take back.' : `There is no step ${id} of the last ${KEPT_DAYS} days.`,
      )
    if (step.undoneAt !== null) throw new Refusal(`Step ${step.id} was taken back already: "${step.text}"`)
    takeBack(core, JSON.parse(step.back) as Done)
    const undoneAt = instant(clock)
    markUndone(db, step.id, undoneAt)
    return { ...toStep(step), undoneAt }
  })
  core.changed('library', 'settings', 'folders', 'night', 'builds')
  await describeAgain(core)
  return step
}

function takeBack(core: Core, done: Done): void {
  const { db, clock } = core
  const must = (did: boolean, why: string) => {
    if (!did) throw new Refusal(why)
  }
  switch (done.do) {
    case 'retire':
      return must(restoreMaster(db, done.master), `Master ${done.master} is not in the library any more.`)
    case 'restore':
      return must(
        retireMaster(db, done.master, instant(clock)),
        `Master ${done.master} is not in matching any more: there is nothing to take back.`,
      )
    case 'add':
    case 'build':
      must(
        forgetMaster(db, done.master),
        `Master ${done.master} cannot be taken out as if it had never been there, since checks speak of it: retire it.`,
      )
      return dropThumbnail(core.dataDir, 'master', done.master)
    case 'prove':
      must(undoCheck(db, done.check, instant(clock)), `Check ${done.check} was taken back already.`)
      return must(setProven(db, done.master, done.before), `Master ${done.master} is not in the library any more.`)
    case 'tell':
      return must(setTold(db, done.master, done.before), `Master ${done.master} is not in the library any more.`)
    case 'light':
      return void putLight(core, done.master, done.before)
    case 'rig':
      return putSpans(db, done.name, spansOf(db, done.name), done.spans)
    case 'rename':
      must(spansOf(db, done.to).length > 0, `There is no rig "${done.to}" any more.`)
      must(spansOf(db, done.from).length === 0, `There is another rig "${done.from}" now: rename that one first.`)
      return rename(db, done.to, done.from)
    case 'change':
      must(undoTrainChange(db, done.change, instant(clock)), `Train change ${done.change} was taken back already.`)
      return refreshEpochs(db)
    case 'decide':
      return takeBackDecisions(core, done.hands)
    case 'change back':
      must(redoTrainChange(db, done.change), `There is no train change ${done.change}.`)
      return refreshEpochs(db)
  }
}
