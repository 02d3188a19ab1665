import { Refusal } from '../../contract/index.ts'
import { immediately } from '../../../db/handle.ts'
import { putHand, type Hand } from '../../../db/tables/frame-hands.ts'
import { frameIdentity } from '../../../db/tables/frames.ts'
import { instant } from '../clock.ts'
import type { Core } from '../core.ts'
import { createDescriber } from '../ingest/describer.ts'
import { describeOne, rootsOf } from './describe-again.ts'
import { followFrames } from './follow-masters.ts'

/**
 * Keeps what a person decided about frames, all of them or none; it outlives every new reading of their headers.
 * @returns how many are told differently now
 */
export function decide(core: Core, ids: readonly number[], change: Partial<Hand>): number {
  const { db, clock, zone } = core
  const changed = immediately(db, () => {
    const describe = createDescriber(db, zone)
    const roots = rootsOf(db)
    const changed = new Set<number>()
    for (const id of new Set(ids)) {
      if (!frameIdentity(db, id)) throw new Refusal(`There is no frame ${id} in the log.`)
      putHand(db, id, change, instant(clock))
      if (describeOne(db, id, describe, roots)) changed.add(id)
    }
    // Masters say what lit their frames.
    if (change.lightSource !== undefined) followFrames(db, changed)
    return changed.size
  })
  if (changed > 0) {
    core.judging.forget()
    core.changed('night', ...(change.lightSource === undefined ? [] : (['library'] as const)))
  }
  return changed
}
