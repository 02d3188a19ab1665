/** The words of a name, lower case: split at anything but letters, and at camelCase ("AutoFocus_01" → auto, focus). */
export function wordsOf(text: string): string[] {
  return text
    .replace(/(\p{Ll})(\p{Lu})/gu, '$1 $2')
    .toLowerCase()
    .split(/[^\p{L}]+/u)
    .filter(Boolean)
}

/**
 * The parts of a path whose words count, the file's name (without its extension) first, then its folders upwards.
 * `below` holds what is below the root; `root` the root's own name (null if no root was given).
 */
export function namesOf(path: string, root: string | null | undefined): { below: string[]; root: string | null } {
  const parts = path.split(/[\\/]+/).filter(Boolean)
  const trunk = root ? root.split(/[\\/]+/).filter(Boolean) : null
  const inside = trunk !== null && trunk.length < parts.length && trunk.every((part, i) => parts[i] === part)
  const below = inside ? parts.slice(trunk.length) : parts.slice(-3)
  const names = below.reverse()
  if (names.length) names[0] = names[0].replace(/(\.(fits|fit|fts))?(\.fz)?$/i, '')
  return { below: names, root: inside ? (trunk.at(-1) ?? null) : null }
}
