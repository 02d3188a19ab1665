import type { Master } from '../contract/index.ts'
import type { Judge, MatchContext } from './context.ts'

/** Makes the judge for a library: masters are indexed once, verdicts remembered by key. */
export function createJudge(_masters: Master[], _context: MatchContext): Judge {
  throw new Error('not written yet')
}
