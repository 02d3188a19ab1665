import type { Notice, Shortfall, TrainChange } from '../../contract/index.ts'
import { createEpochs, touches } from '../../match/epochs.ts'
import { lastLook } from '../../rules/last-look.ts'
import { nightsWithRig } from '../../../db/tables/rig-frames.ts'
import { trainChanges } from '../../../db/tables/train-changes.ts'
import type { Core } from '../core.ts'

export interface Loss {
  losing: Shortfall[]
  notices: Notice[]
}

/** An epoch may be long; lights this many nights back were left without flats for a reason. */
const MOST_NIGHTS = 40

/**
 * What closing a rig's epoch at a moment would lose: flats, with their dark flats, that lights of any of its nights still need.
 * @param at UTC; only what was taken before it counts
 * @param change where it touches less than the whole train
 */
export function whatWouldBeLost(
  core: Core,
  rig: string,
  at: string,
  change?: Pick<TrainChange, 'scope' | 'filter'>,
): Loss {
  const { db, nights } = core
  const atMs = Date.parse(at)
  const epoch = createEpochs(trainChanges(db).filter((one) => one.scope !== 'filter')).at(rig, null, atMs)
  const first = epoch.begunBy ? nights.nightOf(epoch.sinceMs) : ''
  const rows = new Map<string, Shortfall>()
  const notices = new Map<string, Notice>()
  for (const night of nightsWithRig(db, rig, first, nights.nightOf(atMs), MOST_NIGHTS)) {
    const state = nights.state(night)
    const frames = state.frames.filter((frame) => frame.startedAt === null || Date.parse(frame.startedAt) < atMs)
    const look = lastLook({ ...state, frames }, rig)
    for (const row of look.losing) if (isTouched(row, change)) addRow(rows, row)
    for (const notice of look.notices) if (!notices.has(notice.id)) notices.set(notice.id, notice)
  }
  return { losing: [...rows.values()], notices: rows.size > 0 ? [...notices.values()] : [] }
}

/** A filter that is touched takes its flats with it; dark flats can be shot when its flats are there. */
const isTouched = (row: Shortfall, change: Pick<TrainChange, 'scope' | 'filter'> | undefined): boolean =>
  change?.scope !== 'filter' || (row.kind === 'flat' && touches(change as TrainChange, row.settings.filter ?? null))

/** The same flats may be wanted by lights of several nights. */
function addRow(rows: Map<string, Shortfall>, row: Shortfall): void {
  const same = rows.get(row.id)
  rows.set(
    row.id,
    same ? { ...same, lights: same.lights + row.lights, lightS: Math.round(same.lightS + row.lightS) } : row,
  )
}
