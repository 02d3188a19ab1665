import type { Notice, Shortfall } from '../contract/index.ts'
import { assess } from './assess.ts'
import type { NightState } from './state.ts'

/** What would be lost by taking a rig apart now: rows that can't be made up afterwards, and the notices about them. */
export interface LastLook {
  losing: Shortfall[]
  notices: Notice[]
}

/**
 * The last look of "I'm taking it apart", before the epoch closes: flats of this rig that lights still wait for, with their dark
 * flats, all `actNow`. Nothing is changed by looking; confirming logs a train change with `closes`.
 */
export function lastLook(state: NightState, rig: string): LastLook {
  const { shortfall, notices } = assess({ ...state, closing: [...(state.closing ?? []), rig] })
  return {
    losing: shortfall.filter((row) => row.settings.rig === rig && row.urgency === 'actNow'),
    notices: notices.filter((n) => n.severity === 'actNow' && (n.rule === 'no-flat' || n.rule === 'no-dark-flat')),
  }
}
