/** What letters of the page's own typeface measure, from the browser itself. */

const PROBE_PX = 200
const cache = new Map<string, number>()
let context: CanvasRenderingContext2D | null | undefined

function measured(words: string): TextMetrics | undefined {
  context ??= document.createElement('canvas').getContext('2d')
  if (!context) return undefined
  context.font = `600 ${PROBE_PX}px ${getComputedStyle(document.documentElement).getPropertyValue('--font')}`
  return context.measureText(words)
}

function remembered(key: string, measure: () => number): number {
  const known = cache.get(key)
  if (known !== undefined) return known
  if (cache.size > 2000) cache.clear()
  const value = measure()
  cache.set(key, value)
  return value
}

/** Width in letters of 1 px. `final`: the typeface has been loaded; what was measured before is not kept for after. */
export const widthOf = (words: string, final: boolean) =>
  remembered(`${final} ${words}`, () => (measured(words)?.width ?? words.length * PROBE_PX * 0.6) / PROBE_PX)

/** Height of a capital in letters of 1 px. */
export const capHeight = (final: boolean) =>
  remembered(`${final} capital`, () => (measured('H')?.actualBoundingBoxAscent ?? PROBE_PX * 0.67) / PROBE_PX)
