import { LIGHT_SOURCES, type Kind, type LightSource } from '../contract/index.ts'
import type { HeaderLike } from './facts.ts'
import { wordsOf } from './words.ts'

/** Keyword under which masters that are built here say what lit their flats. */
export const LIGHT_SOURCE_KEYWORD = 'LIGHTSRC'

/** Words of an image type, a name or a folder that say what lit a flat. */
const words: Readonly<Record<string, LightSource>> = {
  sky: 'sky',
  skyflat: 'sky',
  skyflats: 'sky',
  twilight: 'sky',
  dusk: 'sky',
  dawn: 'sky',
  panel: 'panel',
  panelflat: 'panel',
  panelflats: 'panel',
  dome: 'screen',
  domeflat: 'screen',
  domeflats: 'screen',
  screen: 'screen',
}

/**
 * What lit a flat, by its header's own card, the words of its kind, or those of its name and folders ("skyflats/dusk_01.fits").
 * Null where nothing says it, or two things.
 * @param kinds texts of the cards that tell the kind
 */
export function readLightSource(
  kind: Kind,
  header: HeaderLike,
  kinds: readonly string[],
  names: readonly string[],
): LightSource | null {
  if (kind !== 'flat') return null
  const card = header.cards.find(({ keyword }) => keyword === LIGHT_SOURCE_KEYWORD)
  const own = LIGHT_SOURCES.find((source) => source === card?.value)
  return own ?? saidIn(kinds) ?? saidIn(names)
}

function saidIn(texts: readonly string[]): LightSource | null {
  const said = new Set(texts.flatMap(wordsOf).flatMap((word) => (Object.hasOwn(words, word) ? words[word] : [])))
  return said.size === 1 ? [...said][0] : null
}

/** What lit all of these flats; null where one of them does not say it, or they differ. */
export const sharedLightSource = (
  frames: readonly { lightSource?: LightSource | null | undefined }[],
): LightSource | null =>
  frames.every((frame) => frame.lightSource === frames[0].lightSource) ? (frames[0]?.lightSource ?? null) : null
