import type { TrainChange } from '../contract/index.ts'

/** The stretch between two train changes, for one rig and one filter (a change may touch one filter's flats alone). */
export interface Epoch {
  /** `RIG/CHANGE`: the change that began it, 0 for the one before any; null where no rig is known: changes are logged by rig. */
  id: string | null
  /** UTC, ms; −∞ and +∞ where no change bounds it. */
  sinceMs: number
  untilMs: number
  /** The change that began it and the one that ended it. */
  begunBy: TrainChange | null
  endedBy: TrainChange | null
}

export interface Epochs {
  /** The epoch of a rig and filter at a moment (ms). A change belongs to the epoch that it begins. */
  at(rig: string | null, filter: string | null, atMs: number): Epoch
  /** The same, asking for the moment only where there is more than one epoch: a date is slower to read than the answer. */
  of(rig: string | null, filter: string | null, atMs: () => number): Epoch
}

const unbounded: Epoch = { id: null, sinceMs: -Infinity, untilMs: Infinity, begunBy: null, endedBy: null }

/** Epochs from the log of train changes, in any order; those that were taken back count for nothing. */
export function createEpochs(changes: readonly TrainChange[]): Epochs {
  const valid = changes.filter((change) => change.undoneAt === null && !Number.isNaN(Date.parse(change.at)))
  const byRig = new Map<string, Map<string | null, readonly Epoch[]>>()
  const list = (rig: string, filter: string | null): readonly Epoch[] => {
    let byFilter = byRig.get(rig)
    if (!byFilter) byRig.set(rig, (byFilter = new Map()))
    let epochs = byFilter.get(filter)
    if (!epochs) {
      const own = valid.filter((change) => change.rig === rig)
      byFilter.set(filter, (epochs = epochsOf(rig, filter, own)))
    }
    return epochs
  }
  const of = (rig: string | null, filter: string | null, atMs: () => number): Epoch => {
    if (rig === null) return unbounded
    const epochs = list(rig, filter)
    if (epochs.length === 1) return epochs[0]
    const moment = atMs()
    // Newest last, and most questions are about now.
    for (let i = epochs.length - 1; i > 0; i--) if (moment >= epochs[i].sinceMs) return epochs[i]
    return epochs[0]
  }
  return { of, at: (rig, filter, atMs) => of(rig, filter, () => atMs) }
}

function epochsOf(rig: string, filter: string | null, changes: readonly TrainChange[]): Epoch[] {
  const bounds = changes
    .filter((change) => touches(change, filter))
    .sort((a, b) => Date.parse(a.at) - Date.parse(b.at) || a.id - b.id)
  const starts = [null, ...bounds]
  return starts.map((begunBy, i) => {
    const endedBy = bounds[i] ?? null
    return {
      id: `${rig}/${begunBy?.id ?? 0}`,
      sinceMs: begunBy ? Date.parse(begunBy.at) : -Infinity,
      untilMs: endedBy ? Date.parse(endedBy.at) : Infinity,
      begunBy,
      endedBy,
    }
  })
}

/** Whether a change ends the epoch of a filter's flats. Without a named filter, a `filter` change is taken for every filter. */
export function touches(change: TrainChange, filter: string | null): boolean {
  if (change.scope !== 'filter' || change.filter === null) return true
  return sameWord(change.filter) === sameWord(filter)
}

/** The id of the epoch that a flat master belongs to, for its `epoch` field; null for other kinds and where it cannot be told. */
export function epochIdOf(
  master: { kind: string; rig: string | null; filter: string | null; madeAt: string | null },
  epochs: Epochs,
): string | null {
  const madeMs = Date.parse(master.madeAt ?? '')
  if (master.kind !== 'flat' || Number.isNaN(madeMs)) return null
  return epochs.at(master.rig, master.filter, madeMs).id
}

const sameWord = (word: string | null) => (word ?? '').trim().toUpperCase()
