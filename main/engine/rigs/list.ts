import { Refusal, type Rig } from '../../contract/index.ts'
import { createEpochs } from '../../match/epochs.ts'
import { list } from '../../match/wording.ts'
import type { Readable } from '../../../db/handle.ts'
import { rigSums } from '../../../db/tables/rig-frames.ts'
import { rigSpans, type RigSpan } from '../../../db/tables/rigs.ts'
import { trainChanges } from '../../../db/tables/train-changes.ts'
import { isFilterByHand, toldSpan } from './spans.ts'

/** Every rig with its history; `now` (UTC) says which span stands. */
export function listRigs(db: Readable, now: string): Rig[] {
  const epochs = createEpochs(trainChanges(db).filter((change) => change.scope !== 'filter'))
  const sums = new Map(rigSums(db).map((sum) => [sum.rig, sum]))
  return [...Map.groupBy(rigSpans(db), (span) => span.rig)].map(([name, spans]) => {
    const epoch = epochs.at(name, null, Date.parse(now))
    const standing = spans.findLast((span) => span.since <= now) ?? spans[0]
    return {
      name,
      ...toldSpan(standing),
      spans: spans.map(toldSpan),
      filterByHand: isFilterByHand(spans),
      frames: sums.get(name)?.frames ?? 0,
      lastFrameAt: sums.get(name)?.lastFrameAt ?? null,
      epoch: epoch.id ?? `${name}/0`,
      epochSince: epoch.begunBy?.at ?? null,
    }
  })
}

const same = (a: string, b: string) => a.trim().toUpperCase() === b.trim().toUpperCase()

/** The spans of a rig, by its name without regard to case; empty for a new one. */
export const spansOf = (db: Readable, name: string): RigSpan[] => rigSpans(db).filter((span) => same(span.rig, name))

/**
 * The rig that is meant: the one named, or the only one.
 * @returns its name as it is kept
 * @throws Refusal where there is none, or several and none was named
 */
export function theRig(db: Readable, name: string | undefined): string {
  const names = [...new Set(rigSpans(db).map((span) => span.rig))]
  if (names.length === 0)
    throw new Refusal('There is no rig yet: watch its folder, or name one and say which folder its frames come into.', {
      waysOut: [{ make: 'rig' }],
    })
  if (name !== undefined) {
    const found = names.find((known) => same(known, name))
    if (!found) throw new Refusal(`There is no rig "${name}": there ${names.length > 1 ? 'are' : 'is'} ${list(names)}.`)
    return found
  }
  if (names.length > 1) throw new Refusal(`Say which rig: there are ${list(names)}.`)
  return names[0]
}
