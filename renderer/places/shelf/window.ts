/** The part of a long table that is drawn, and the room that stands for the rest. Rows are counted from 0, lengths are CSS pixels. */
export interface TableWindow {
  first: number
  /** One past the last. */
  end: number
  beforePx: number
  afterPx: number
}

/** Rows beyond what is seen, above and below, so that scrolling meets drawn ones. */
export const SPARE = 8

export function tableWindow(at: { scrollPx: number; viewPx: number; rowPx: number; rows: number }): TableWindow {
  const { scrollPx, viewPx, rowPx, rows } = at
  const seen = Math.ceil(viewPx / rowPx)
  const top = Math.min(Math.max(0, Math.floor(scrollPx / rowPx)), Math.max(0, rows - seen))
  const first = Math.max(0, top - SPARE)
  const end = Math.min(rows, top + seen + SPARE)
  return { first, end, beforePx: first * rowPx, afterPx: (rows - end) * rowPx }
}

/** Where to scroll so that a row is seen whole below a heading that stays; as it is where it is seen already. */
export function scrollToRow(
  row: number,
  at: { scrollPx: number; viewPx: number; rowPx: number; headPx: number },
): number {
  const { scrollPx, viewPx, rowPx, headPx } = at
  const top = row * rowPx
  if (top < scrollPx) return top
  const lowest = top + rowPx - (viewPx - headPx)
  return lowest > scrollPx ? lowest : scrollPx
}
