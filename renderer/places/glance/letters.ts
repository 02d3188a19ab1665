/**
 * How large the letters of the glance mode are. Pure; what a text measures is told by the caller.
 *
 * A centimetre of CSS is nominal: a browser takes every screen for one of 96 px an inch. So the letters are counted from
 * the screen's own diagonal, which the user can state: `pxPerCm`. At 1920 × 1080 on 24 inches (60.96 cm) that is
 * √(1920² + 1080²) / 60.96 = 36.1 px a centimetre, and letters of 5 cm are 181 px high. "High" is the height of a capital.
 * In a smaller window, or where several rigs share the height, letters get smaller, as large as all of them still fit.
 */

export const LETTERS_CM = 5
const CM_PER_INCH = 2.54

export const pxPerCm = (screen: { width: number; height: number }, diagonalIn: number) =>
  Math.hypot(screen.width, screen.height) / (diagonalIn * CM_PER_INCH)

/** What a screen of so many CSS px mostly is, until the user says otherwise: a phone, a laptop, a desk's screen. */
export function likelyDiagonalIn({ width, height }: { width: number; height: number }): number {
  const short = Math.min(width, height)
  return short < 600 ? 6 : short < 1000 ? 14 : 24
}

/** The next larger or smaller size of a screen: by halves up to a tablet's, by whole inches beyond. */
export function nextDiagonalIn(inches: number, step: 1 | -1): number {
  const by = (step > 0 ? inches >= 10 : inches > 10) ? 1 : 0.5
  return Math.max(3, Math.min(100, inches + step * by))
}

export interface Text {
  words: string
  /** Letter size beside that of the answers: 1 for those. */
  scale: number
  /** Room kept free before it, in units of its own letter size: for its sign. */
  indent: number
}

/** Width of a text in letters of 1 px. */
export type Measure = (words: string) => number

export const LINE_HEIGHT = 1.1
/** Around each block, in units of the answers' letter size. */
export const BLOCK_GAP = 0.12
/** Letters smaller than this could not be read in any window. */
const LEAST_PX = 14

/** How many lines a text takes in letters of `sizePx`; Infinity where a single word is too wide. */
export function linesOf({ words, scale, indent }: Text, sizePx: number, widthPx: number, measure: Measure): number {
  const size = sizePx * scale
  const room = widthPx - indent * size
  let lines = 1
  let used = 0
  for (const word of words.split(/ (?!·)/)) {
    const width = measure(word) * size
    if (width > room) return Infinity
    const withSpace = used + (used ? measure(' ') * size : 0) + width
    if (withSpace > room) lines++
    used = withSpace > room ? width : withSpace
  }
  return lines
}

/** The largest letter size (font size, px) up to `mostPx` at which all blocks stand in the room. */
export function fittedSize(
  blocks: readonly (readonly Text[])[],
  room: { width: number; height: number },
  mostPx: number,
  measure: Measure,
): number {
  const heightAt = (size: number) =>
    blocks
      .flat()
      .reduce((sum, text) => sum + linesOf(text, size, room.width, measure) * size * text.scale * LINE_HEIGHT, 0) +
    blocks.length * size * BLOCK_GAP
  let [fits, tooLarge] = [LEAST_PX, mostPx]
  if (heightAt(mostPx) <= room.height) return mostPx
  while (tooLarge - fits > 0.5) {
    const middle = (fits + tooLarge) / 2
    if (heightAt(middle) <= room.height) fits = middle
    else tooLarge = middle
  }
  return fits
}
