/** Words that say: no colour filter array. */
const monoWords = /^(mono(chrome)?|none|gr[ae]y|no|false|f)$/i

export interface CfaQuestion {
  /** BAYERPAT or COLORTYP as written; null if absent. */
  pattern: string | null
  /** XBAYROFF, YBAYROFF; null if absent. */
  offsetX: number | null
  offsetY: number | null
  rowOrder: string | null
  height: number | null
}

/**
 * The colour filter array as four letters, row by row from the first *stored* pixel. The header's letters are read from the
 * top left; the offsets move them by columns and rows. Under BOTTOM-UP rows the letters describe the flipped picture (from
 * memory, no source): in an image of even height the rows of the pattern change places, in an odd one they stay.
 * @returns null for mono or absent; `unreadable` where the letters are no 2 × 2 pattern
 */
export function readCfa({ pattern, offsetX, offsetY, rowOrder, height }: CfaQuestion): string | null | 'unreadable' {
  if (pattern === null || monoWords.test(pattern)) return null
  const letters = pattern.toUpperCase().replace(/[^A-Z]/g, '')
  if (!/^[RGBCMYW]{4}$/.test(letters)) return 'unreadable'
  const flipped = rowOrder === 'BOTTOM-UP' && height !== null && height % 2 === 0
  const dx = Math.abs(Math.trunc(offsetX ?? 0)) % 2
  const dy = (Math.abs(Math.trunc(offsetY ?? 0)) + (flipped ? 1 : 0)) % 2
  const at = (x: number, y: number) => letters[((y + dy) % 2) * 2 + ((x + dx) % 2)]
  return at(0, 0) + at(1, 0) + at(0, 1) + at(1, 1)
}

/** TOP-DOWN or BOTTOM-UP, however written; null for anything else. */
export function readRowOrder(text: string | null): string | null {
  const word = text?.toUpperCase().replace(/[^A-Z]/g, '') ?? ''
  return word === 'TOPDOWN' ? 'TOP-DOWN' : word === 'BOTTOMUP' ? 'BOTTOM-UP' : null
}
