import type { Assessment, NightState } from './state.ts'

/** Runs with their verdicts, notices and shortfall of one night. Pure: the clock is in the state. */
export function assess(_state: NightState): Assessment {
  throw new Error('not written yet')
}
