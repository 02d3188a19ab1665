/** Small choices kept by the browser. Where it keeps nothing (private windows), they last as long as the page. */
const fallback = new Map<string, string>()
const PREFIX = 'nightshelf.'

export function readStored(key: string): string | null {
  try {
    return localStorage.getItem(PREFIX + key)
  } catch {
    return fallback.get(key) ?? null
  }
}

export function writeStored(key: string, value: string | null) {
  try {
    if (value === null) localStorage.removeItem(PREFIX + key)
    else localStorage.setItem(PREFIX + key, value)
  } catch {
    if (value === null) fallback.delete(key)
    else fallback.set(key, value)
  }
}
