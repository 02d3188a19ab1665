import { MASTER_KINDS, MASTER_STATES, type MasterKind, type MasterState } from '../../../main/contract/words.ts'
import { kindsWord } from '../../parts/labels.ts'
import type { Condition, FindContext, Reading } from './find.ts'
import { ageDaysOf } from './rows.ts'

/** Ways to name a kind, the longest first; what "dark flat" is called differs from shop to shop. */
const KIND_PHRASES: readonly (readonly [phrase: string, kind: MasterKind])[] = [
  ['darks for the flats', 'darkFlat'],
  ['dark for the flats', 'darkFlat'],
  ['darks for flats', 'darkFlat'],
  ['dark for flats', 'darkFlat'],
  ['dark for flat', 'darkFlat'],
  ['dark flats', 'darkFlat'],
  ['dark flat', 'darkFlat'],
  ['flat darks', 'darkFlat'],
  ['flat dark', 'darkFlat'],
  ['darks flat', 'darkFlat'],
  ['dark-flats', 'darkFlat'],
  ['dark-flat', 'darkFlat'],
  ['flat-darks', 'darkFlat'],
  ['flat-dark', 'darkFlat'],
  ['darkflats', 'darkFlat'],
  ['darkflat', 'darkFlat'],
  ['flatdarks', 'darkFlat'],
  ['flatdark', 'darkFlat'],
  ['darks', 'dark'],
  ['dark', 'dark'],
  ['flats', 'flat'],
  ['flat', 'flat'],
  ['biases', 'bias'],
  ['bias', 'bias'],
]

/** How many of `words` the phrase takes; 0 where it does not fit. With `isOpen` its last word may still be growing. */
function lengthOf(phrase: string, words: readonly string[], isOpen: boolean): number {
  const parts = phrase.split(' ')
  if (parts.length > words.length) return 0
  const isAtEnd = parts.length === words.length
  const fits = parts.every((part, at) => {
    const word = words[at]!
    const mayGrow = isOpen && isAtEnd && at === parts.length - 1 && parts.length > 1
    return mayGrow ? part.startsWith(word) : part === word
  })
  return fits ? parts.length : 0
}

export function readKind(words: readonly string[], { rows }: FindContext, isOpen: boolean): Reading | null {
  for (const [phrase, kind] of KIND_PHRASES) {
    const length = lengthOf(phrase, words, isOpen)
    if (!length) continue
    const place = MASTER_KINDS.indexOf(kind)
    return { length, condition: { says: kindsWord[kind], fits: (row) => rows.kind[row] === place } }
  }
  return null
}

type StateReader = (context: FindContext) => Condition

const isState =
  (state: MasterState): StateReader =>
  ({ rows }) => {
    const place = MASTER_STATES.indexOf(state)
    return { says: state, fits: (row) => rows.state[row] === place }
  }

const isIn =
  (which: 'used' | 'near', says: string, wanted: boolean): StateReader =>
  ({ rows, [which]: ids }) => ({ says, fits: (row) => ids === null || ids.has(rows.id[row]!) === wanted })

const proven =
  (says: string, wanted: boolean): StateReader =>
  ({ rows }) => ({ says, fits: (row) => Number.isNaN(rows.provenAtMs[row]!) !== wanted })

const confirmed =
  (says: string, wanted: number): StateReader =>
  ({ rows }) => ({ says, fits: (row) => rows.confirmed[row] === wanted })

const old: StateReader = ({ rows, nowMs, oldDays }) => ({
  says: `older than ${oldDays} days`,
  fits: (row) => (ageDaysOf(rows, row, nowMs) ?? -1) > oldDays,
})

const STATES: Record<string, StateReader> = {
  ready: isState('ready'),
  retired: isState('retired'),
  damaged: isState('damaged'),
  proven: proven('proven', true),
  unproven: proven('not proven', false),
  confirmed: confirmed('confirmed', 1),
  unconfirmed: confirmed('unconfirmed: scale or history not known', 0),
  matched: isIn('used', 'matched by lights', true),
  used: isIn('used', 'matched by lights', true),
  unused: isIn('used', 'matched by no light', false),
  near: isIn('near', 'near: lights almost match', true),
  unwanted: ({ rows }) => ({
    says: 'unwanted: bias frames of a sensor that wants none',
    fits: (row) => rows.unwanted[row] === 1,
  }),
  old,
}

export function readState([word = '', next]: readonly string[], context: FindContext): Reading | null {
  if (word === 'in' && next === 'use') return { length: 2, condition: STATES.used!(context) }
  const read = Object.hasOwn(STATES, word) ? STATES[word] : undefined
  return read ? { length: 1, condition: read(context) } : null
}
