import { asideWords } from './vocabulary.ts'
import { wordsOf } from './words.ts'

/**
 * Why a frame is aside ("focus" in its name), or null if nothing says so. Whole words only, in the file's name, the folders
 * below the watched one, and the header values given.
 */
export function whyAside(
  names: readonly string[],
  headerValues: readonly { keyword: string; value: string | null }[],
  words: readonly string[] = asideWords,
): string | null {
  const wanted = setOf(words)
  const inText = (text: string) => wordsOf(text).find((word) => wanted.has(word)) ?? null
  for (const [i, name] of names.entries()) {
    const word = inText(name)
    if (word) return `"${word}" in its ${i === 0 ? 'name' : 'folder'}`
  }
  for (const { keyword, value } of headerValues) {
    const word = value === null ? null : inText(value)
    if (word) return `"${word}" in ${keyword}`
  }
  return null
}

const sets = new WeakMap<readonly string[], Set<string>>()
function setOf(words: readonly string[]): Set<string> {
  let set = sets.get(words)
  if (!set) sets.set(words, (set = new Set(words.map((word) => word.trim().toLowerCase()))))
  return set
}
