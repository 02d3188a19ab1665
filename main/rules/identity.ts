/**
 * A short name for a cause, the same in every assessment: a rule or kind, and what it is about, in seven letters and digits.
 * (FNV-1a over 36 bits; a night has tens of causes, not thousands.)
 */
export function nameCause(what: string, ...cause: (string | number | null | undefined)[]): string {
  const text = cause.map((part) => part ?? '').join('\u001f')
  let low = 0x811c9dc5
  let high = 0x01000193
  for (let i = 0; i < text.length; i++) {
    low = Math.imul(low ^ text.charCodeAt(i), 0x01000193)
    high = Math.imul(high ^ text.charCodeAt(i), 0x85ebca6b)
  }
  const name = ((high >>> 28) * 2 ** 32 + (low >>> 0)).toString(36).padStart(7, '0')
  return `${what}-${name.slice(-7)}`
}
