import { PLACES, placeName, type Place } from './address.ts'
import { readStored, writeStored } from './stored.ts'

export type KeyAction = { do: 'go'; place: Place } | { do: 'keys' } | { do: 'look' } | { do: 'glance' }

/** Every key of the window, as the list under `?` shows them. */
export const KEYS: readonly { key: string; says: string; action: KeyAction }[] = [
  ...PLACES.map((place, index) => ({
    key: String(index + 1),
    says: placeName[place],
    action: { do: 'go', place } as const,
  })),
  { key: 'L', says: 'the other look: warm or red lamp', action: { do: 'look' } },
  {
    key: 'G',
    says: 'the answer alone, in letters for reading from afar; G or Escape leads back',
    action: { do: 'glance' },
  },
  { key: '?', says: 'this list', action: { do: 'keys' } },
]

/** Keys of single pages, for the list under `?`. */
export const PAGE_KEYS: readonly { key: string; says: string }[] = [
  { key: 'P, N', says: 'the frame before, the frame after in its run' },
  { key: '+, −', says: 'picture: larger, smaller' },
  { key: '0, O', says: 'picture: the whole, or 1:1' },
  { key: 'Arrows', says: 'picture: move it; with Shift by one pixel of the screen' },
  { key: 'V', says: 'picture: say the value in the middle' },
  { key: 'B, C', says: 'picture: as it is or brightened, mosaic or colour' },
  { key: 'Esc', says: 'picture: back to its page' },
]

type Stroke = Pick<KeyboardEvent, 'key' | 'ctrlKey' | 'altKey' | 'metaKey' | 'target'>

/** Text is being written, or a dialog is open: keys are for those. */
const writes = (target: EventTarget | null) =>
  target !== null &&
  (target as Element).closest?.('input:not([type=radio]), textarea, [contenteditable], dialog') != null

/** A single key that is meant for the page, not for a field, a dialog or the browser. */
export const isForPage = (stroke: Stroke): boolean =>
  !(stroke.ctrlKey || stroke.altKey || stroke.metaKey || writes(stroke.target))

/** What a key stroke asks for; null where it is text being written, or belongs to the browser. */
export function actionFor(stroke: Stroke): KeyAction | null {
  if (!isForPage(stroke)) return null
  return KEYS.find(({ key }) => key.toLowerCase() === stroke.key.toLowerCase())?.action ?? null
}

/** Single keys can be switched off, for people whose voice or tremor would press them unasked (WCAG 2.1.4). */
export class KeyChoice {
  #on = $state(readStored('keys') !== 'off')

  get on() {
    return this.#on
  }

  set(on: boolean) {
    this.#on = on
    writeStored('keys', on ? null : 'off')
  }
}
