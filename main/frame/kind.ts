import type { Kind } from '../contract/index.ts'
import { kindWords, masterWords } from './vocabulary.ts'
import { wordsOf } from './words.ts'

type UserWords = Readonly<Record<string, Kind>> | undefined

/**
 * The kind that a text names, in any spelling ("Light Frame", "FLATDARK", "dark-flat", "Dark for flats"); null if it names none
 * or several that do not belong together. No convention has a value for a dark flat, so both words in either order are one.
 */
export function kindIn(text: string, own?: UserWords): Kind | null {
  const whole = text.trim().toLowerCase()
  if (own) for (const [word, kind] of Object.entries(own)) if (word.trim().toLowerCase() === whole) return kind
  const kinds = new Set<Kind>()
  const words = wordsOf(text)
  for (const word of words) {
    const kind = ownKind(word, own) ?? (Object.hasOwn(kindWords, word) ? kindWords[word] : null)
    if (kind) kinds.add(kind)
  }
  if (kinds.has('darkFlat') || (kinds.has('dark') && kinds.has('flat'))) {
    for (const part of ['dark', 'flat', 'darkFlat'] as const) kinds.delete(part)
    kinds.add('darkFlat')
  }
  return kinds.size === 1 ? [...kinds][0] : null
}

function ownKind(word: string, own: UserWords): Kind | null {
  if (!own) return null
  for (const [spelling, kind] of Object.entries(own)) if (spelling.trim().toLowerCase() === word) return kind
  return null
}

/**
 * The kind that the file's name and folders tell: the nearest that names one decides. A name that names another kind than its
 * folder ("dark_nebula" in "lights") tells nothing, but for a dark in a folder of flats, which is what it says.
 */
export function kindFromNames(names: readonly string[], own?: UserWords): Kind | null {
  const [file, ...folders] = names.map((name) => kindIn(name, own))
  const folder = folders.find((kind) => kind !== null) ?? null
  if (file === null || file === undefined || folder === null) return file ?? folder
  const together = file === folder || (isDarkOrFlat(file) && isDarkOrFlat(folder))
  return together ? file : null
}

const isDarkOrFlat = (kind: Kind) => kind === 'dark' || kind === 'flat' || kind === 'darkFlat'

/** True where a text says that many frames are in one file ("Master Dark", "masterflat_Ha"). */
export const saysMaster = (text: string): boolean =>
  wordsOf(text).some(
    (word) => masterWords.includes(word) || (word.startsWith('master') && Object.hasOwn(kindWords, word)),
  )
