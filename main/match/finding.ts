import type { Difference, Master } from '../contract/index.ts'

/** What the shelf has for one frame and one need, before it is said in words. */
export interface Finding {
  /** Null: nothing fits, and `master` is merely the nearest. */
  word: 'matched' | 'near' | 'unconfirmed' | null
  master: Master | null
  /** What stands between it and a match; for `matched`, what is worth noting and blocks nothing. */
  differences: Difference[]
  /** What a near match would cost, as sentences; none where nothing is known. */
  costs?: string[]
}

/** How well a candidate fits: 0 matched, 1 near, 2 unconfirmed, 3 not at all. Small numbers, since this is asked millions of times. */
export const MATCHED = 0
export const NEAR = 1
export const UNCONFIRMED = 2
export const UNFIT = 3
export type Fit = typeof MATCHED | typeof NEAR | typeof UNCONFIRMED | typeof UNFIT
export const fitWords = ['matched', 'near', 'unconfirmed', null] as const

/**
 * @param off fields that differ within what `near` allows
 * @param unknown settings that just one side knows
 * @param open facts of the master that nobody told yet
 */
export function fitOf(off: number, unknown: number, open: number): Fit {
  if (unknown > mostUnknown) return UNFIT
  // Off in one field and unknown in another is neither "near" nor "fits but for": it is worth naming, and shooting anew.
  if (off && (unknown || open)) return UNFIT
  return off ? NEAR : unknown || open ? UNCONFIRMED : MATCHED
}

/** More unknown fields than this, and a master is a stranger: it must not silence a need. */
export const mostUnknown = 3

/** Lists of numbers compare from the left. */
export function compareOrder(a: readonly number[], b: readonly number[]): number {
  for (let i = 0; i < a.length; i++) if (a[i] !== b[i]) return a[i] < b[i] ? -1 : 1
  return 0
}

/** Facts that an imported master was never asked about, or was not answered. */
export function openQuestions(master: Master): Difference[] {
  const open: Difference[] = []
  if (master.scale === null) open.push({ field: 'scale', light: null, master: null })
  if (master.subtracted === null) open.push({ field: 'subtracted', light: null, master: null })
  return open
}
