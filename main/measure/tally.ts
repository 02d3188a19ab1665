/** Bins of 16-bit words: the stored word with its sign bit turned, 0…65535 (the value itself for unsigned cameras). */
export const BINS = 65536
/** A difference of two bins is counted at the difference plus this. */
export const NO_DIFFERENCE = 65536

/** Which neighbours are compared: pairs (x, x + reach), x = start, start + 2, …, in rows of one parity, or in all (2). */
export interface Neighbours {
  start: number
  reach: number
  rowParity: 0 | 1 | 2
}

/** What one pass over a frame counts. */
export interface Tally {
  /** By place in a colour filter array: row parity × 2 + column parity. */
  places: [Uint32Array, Uint32Array, Uint32Array, Uint32Array]
  differences: Uint32Array
}

/**
 * Neighbours of one colour: of a filter array the green of the first row that has one (one row in two, every second column), of a
 * mono sensor each pixel in an even column with the next. Stars and gradients cancel in the difference, noise does not.
 */
export function neighboursOf(cfa: string | null): Neighbours {
  if (!isRgbPattern(cfa)) return { start: 0, reach: 1, rowParity: 2 }
  const green = cfa.indexOf('G')
  return { start: green % 2, reach: 2, rowParity: green < 2 ? 0 : 1 }
}

/** Four letters of R, G and B with all three in it: the patterns whose channels can be told. */
export function isRgbPattern(cfa: string | null): cfa is string {
  return cfa !== null && /^[RGB]{4}$/.test(cfa) && ['R', 'G', 'B'].every((c) => cfa.includes(c))
}

export function createTally(): Tally {
  const place = () => new Uint32Array(BINS)
  return { places: [place(), place(), place(), place()], differences: new Uint32Array(2 * NO_DIFFERENCE) }
}

/** The specification of the counting kernel: rows `y`, `y + 1`, … of bins, plainly. */
export function countRows(tally: Tally, bins: Uint16Array, width: number, y: number, neighbours: Neighbours): void {
  const { start, reach, rowParity } = neighbours
  for (let r = 0; r * width < bins.length; r++) {
    const row = bins.subarray(r * width, (r + 1) * width)
    const parity = (y + r) % 2
    row.forEach((bin, x) => tally.places[parity * 2 + (x % 2)][bin]++)
    if (rowParity !== 2 && rowParity !== parity) continue
    for (let x = start; x + reach < width; x += 2) tally.differences[NO_DIFFERENCE + row[x + reach] - row[x]]++
  }
}
