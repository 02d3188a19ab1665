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
  const wanted = new Set(words.map((word) => word.trim().toLowerCase()))
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
