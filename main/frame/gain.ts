import type { Found } from './lexicon.ts'
import type { Resolver } from './resolve.ts'
import { readQuantity, readWords, unitIn } from './values.ts'
import { settings } from './dictionary.ts'

/** A comment that says: this is the camera's setting. */
const saysSetting = /\b(setting|set gain|gain value|dB|decibel|index)\b/i
const saysElectrons = /e(lectrons?)?-?\s*(\/|per)\s*(adu|dn|count)/i
/** No sensor of a camera gives more electrons per ADU of 16 bits than this (common practice, no source). */
const mostElectrons = 20

/**
 * GAIN follows "many different conventions" (common extensions, as carried by nom-tam-fits): a setting, a label, or electrons
 * per ADU. Told by its comment or by the user, it is taken as that. Told by nothing: a whole number is a setting; a small number
 * with a fraction may be either, and so may a whole one that equals EGAIN, so those are unknown.
 */
export function readGain(resolve: Resolver): { gain: number | string | null; electronsPerAdu: number | null } {
  const electrons = [...resolve.found('electronsPerAdu')]
  const rest: Found[] = []
  for (const card of resolve.found('gain')) (!card.told && namesElectrons(card) ? electrons : rest).push(card)
  const electronsPerAdu = resolve.number('electronsPerAdu', electrons)
  const certain: Found[] = []
  for (const card of rest) {
    const meaning = card.told ? 'setting' : meaningOf(card, electronsPerAdu)
    if (meaning === 'setting') certain.push(card)
    if (meaning !== 'either') continue
    const text = `${card.keyword} is ${readWords(card.value)}, which may be a setting or electrons per ADU`
    return { gain: resolve.unknown('gain', [card], text), electronsPerAdu }
  }
  return { gain: resolve.level('gain', certain), electronsPerAdu }
}

const namesElectrons = ({ value, comment }: Found) =>
  unitIn(comment, 'e-/ADU') !== undefined ||
  saysElectrons.test(comment) ||
  (typeof value === 'string' && saysElectrons.test(value))

function meaningOf({ value, comment }: Found, electronsPerAdu: number | null): 'setting' | 'electrons' | 'either' {
  if (saysSetting.test(comment)) return 'setting'
  const reading = readQuantity(value, '', settings.gain)
  if (!reading || 'why' in reading) return 'setting'
  const n = reading.value
  const sameAsElectrons = electronsPerAdu !== null && Math.abs(n - electronsPerAdu) <= 0.01 * electronsPerAdu
  if (Number.isInteger(n)) return sameAsElectrons ? 'either' : 'setting'
  if (sameAsElectrons) return 'electrons'
  return electronsPerAdu === null && n > 0 && n <= mostElectrons ? 'either' : 'setting'
}
