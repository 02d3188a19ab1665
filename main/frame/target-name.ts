/** Letters and digits alone, small and without accents: "M 31", "m31" and "M-31" are one name. */
const squeeze = (text: string): string =>
  text
    .normalize('NFKD')
    .replace(/[^\p{L}\p{N}]+/gu, '')
    .toLowerCase()

/**
 * Makes the test whether a target's name holds every word of a search, in any order. A search without a letter or digit finds
 * nothing.
 */
export function targetFinder(search: string): (target: string) => boolean {
  const words = search.split(/\s+/).map(squeeze).filter(Boolean)
  return (target) => {
    const name = squeeze(target)
    return words.length > 0 && words.every((word) => name.includes(word))
  }
}
