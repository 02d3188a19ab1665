import type { Urgency } from '../contract/index.ts'
import { isUsable } from '../match/raw.ts'
import { endMs } from './cadence.ts'
import type { Need } from './needs.ts'
import type { NightView } from './view.ts'

/** While calibration frames keep coming, somebody is at it: the next one is waited for this long, s. */
const patienceS = 15 * 60

/**
 * How urgent it is to shoot this now. Darks never are. Flats, and dark flats with them, are `beforeTeardown`, and `actNow` at the
 * last chance: when the rig is being taken apart, at dawn, or when the filter was taken out of its drawer by hand. A wheel or a
 * rotator goes back to where it was, so leaving a filter in it costs nothing and wakes nobody; nor does dawn while flats are
 * being shot. A dark flat whose epoch is over can still be shot like any dark.
 */
export function urgencyOf(need: Need, view: NightView): Urgency {
  if (need.kind === 'dark') return 'anyTime'
  if (need.kind === 'darkFlat' && need.epoch?.endedBy) return 'anyTime'
  const { rig } = need.sample
  if (rig !== null && view.state.closing?.includes(rig)) return 'actNow'
  // What nearly fits is there: worth shooting while the rig stands, not worth waking for.
  if (need.verdict.verdict === 'near') return 'beforeTeardown'
  if (leftByHand(need, view)) return 'actNow'
  if (!view.clock.afterDawn) return 'beforeTeardown'
  return beingShot(rig, view) ? 'beforeTeardown' : 'actNow'
}

function leftByHand(need: Need, view: NightView): boolean {
  const { rig, filter } = need.sample
  if (!view.state.rigs?.some((r) => r.name === rig && r.filterByHand)) return false
  const throughTrain = (view.byRig.get(rig) ?? []).filter(
    (f) => (f.kind === 'light' || f.kind === 'flat') && isUsable(f),
  )
  const last = throughTrain.at(-1)
  return last !== undefined && last.filter !== filter
}

function beingShot(rig: string | null, view: NightView): boolean {
  const calibration = (view.byRig.get(rig) ?? []).filter(
    (f) => (f.kind === 'flat' || f.kind === 'darkFlat' || f.kind === 'dark') && isUsable(f),
  )
  const last = calibration.at(-1)
  return last !== undefined && view.clock.nowMs - endMs(last) <= patienceS * 1000
}

/** Whether it can still be shot at all: a flat's epoch must be open, and the camera there. */
export const canBeShot = (need: Need, gone: readonly string[]) =>
  !(need.kind === 'flat' && need.epoch?.endedBy) &&
  ![need.sample.camera, need.sample.body].some(
    (name) => name !== null && gone.some((g) => g.trim().toUpperCase() === name.trim().toUpperCase()),
  )
