/** What a key asks of the picture. */
export type ImageStroke =
  'larger' | 'smaller' | 'whole' | 'oneToOne' | 'asIs' | 'colour' | 'say' | 'back' | { x: number; y: number }

/** Device pixels of one step of an arrow key. */
const STEP = 80

const always: Record<string, ImageStroke> = {
  ArrowLeft: { x: -STEP, y: 0 },
  ArrowRight: { x: STEP, y: 0 },
  ArrowUp: { x: 0, y: -STEP },
  ArrowDown: { x: 0, y: STEP },
  Escape: 'back',
}
/** Single characters, which a person may switch off. */
const characters: Record<string, ImageStroke> = {
  '+': 'larger',
  '=': 'larger',
  '-': 'smaller',
  '\u2212': 'smaller',
  '0': 'whole',
  o: 'oneToOne',
  b: 'asIs',
  c: 'colour',
  v: 'say',
}

type Stroke = Pick<KeyboardEvent, 'key' | 'ctrlKey' | 'altKey' | 'metaKey' | 'shiftKey' | 'target' | 'defaultPrevented'>

/**
 * What a stroke asks of the picture; null where it belongs to a field, a dialog, something that scrolls by itself, or the browser.
 * With Shift an arrow moves by one device pixel.
 * @param single whether single characters count
 */
export function strokeFor(stroke: Stroke, single: boolean): ImageStroke | null {
  if (stroke.defaultPrevented || stroke.ctrlKey || stroke.altKey || stroke.metaKey) return null
  const target = stroke.target as Element | null
  const other = target?.closest?.('input, textarea, dialog, [role="region"]') != null
  if (other && !(stroke.key === 'Escape' && !target!.closest('dialog'))) return null
  const asked = always[stroke.key] ?? (single ? characters[stroke.key.toLowerCase()] : undefined)
  if (!asked) return null
  return typeof asked === 'object' && stroke.shiftKey ? { x: Math.sign(asked.x), y: Math.sign(asked.y) } : asked
}
