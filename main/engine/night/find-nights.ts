import { setImmediate as breathe } from 'node:timers/promises'
import type { Answer } from '../../contract/index.ts'
import { targetFinder } from '../../frame/target-name.ts'
import type { Readable } from '../../../db/handle.ts'
import { allTargets, nightsOfTarget } from '../../../db/tables/targets.ts'

type FoundNight = Answer<'findNights'>['nights'][number]

/** The nights in which targets of this name were photographed, newest first. Others have their turn between two targets. */
export async function findNights(db: Readable, search: string): Promise<FoundNight[]> {
  const nights = new Map<string, FoundNight>()
  for (const target of allTargets(db).filter(targetFinder(search))) {
    for (const { night, lights, lightS } of nightsOfTarget(db, target)) {
      const found = nights.get(night)
      if (!found) nights.set(night, { night, targets: [target], lights, lightS })
      else {
        found.targets.push(target)
        found.lights += lights
        found.lightS += lightS
      }
    }
    await breathe()
  }
  return [...nights.values()].sort((a, b) => b.night.localeCompare(a.night))
}
