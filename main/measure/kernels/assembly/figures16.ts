// One pass over rows of big-endian 16-bit words, a strip at a time while it is in the cache: byte order, four histograms by row and
// column parity (the four places of a colour filter array), a histogram of differences of neighbours, and row sums for a picture.
// The specification is ../../tally.ts.

/** Four histograms of 65536 u32, by place: row parity × 2 + column parity. A word's bin is the word with its sign bit turned. */
let histograms: usize = 0
/** 131072 u32: a difference's bin is the difference plus 65536. */
let differences: usize = 0
/** u32 a column (their number rounded up to 8), for even and then for odd rows, or 0 where no picture is wanted. */
let columnSums: usize = 0
let width: i32 = 0
/** Neighbours: pairs (x, x + reach) for x = start, start + 2, … in rows of parity `rowParity` (2: in all). */
let start: i32 = 0
let reach: i32 = 0
let rowParity: i32 = 0

export function configure(
  histogramsAt: usize, differencesAt: usize, columnSumsAt: usize,
  rowWidth: i32, firstX: i32, distance: i32, parity: i32,
): void {
  histograms = histogramsAt
  differences = differencesAt
  columnSums = columnSumsAt
  width = rowWidth
  start = firstX
  reach = distance
  rowParity = parity
}

/** Big-endian words to bins, in place; `bytes` is rounded up to 16. */
export function toBins(at: usize, bytes: usize): void {
  const sign = i16x8.splat(-32768)
  for (const end = at + bytes; at < end; at += 16) {
    const x = v128.load(at)
    v128.store(at, v128.xor(v128.shuffle<u8>(x, x, 1, 0, 3, 2, 5, 4, 7, 6, 9, 8, 11, 10, 13, 12, 15, 14), sign))
  }
}

/** Rows `y`, `y + 1`, … of bins at `at`. */
export function count(at: usize, y: i32, rows: i32): void {
  const rowBytes = <usize>width << 1
  for (let r = 0; r < rows; r++, at += rowBytes) {
    const parity = (y + r) & 1
    countRow(at, histograms + (<usize>parity << 19))
    if (rowParity == 2 || rowParity == parity) countDifferences(at)
    if (columnSums) addColumns(at, columnSums + (<usize>parity * <usize>((width + 7) & ~7) << 2))
  }
}

@inline
function bump(base: usize, bin: u32): void {
  const at = base + (<usize>bin << 2)
  store<u32>(at, load<u32>(at) + 1)
}

/** Even columns to the histogram at `even`, odd ones to the next: four bins a load. */
function countRow(at: usize, even: usize): void {
  const odd = even + 262144
  const four = width & ~3
  let x = 0
  for (; x < four; x += 4, at += 8) {
    const w = load<u64>(at)
    bump(even, <u32>w & 0xffff)
    bump(odd, <u32>(w >> 16) & 0xffff)
    bump(even, <u32>(w >> 32) & 0xffff)
    bump(odd, <u32>(w >> 48))
  }
  for (; x < width; x++, at += 2) bump(x & 1 ? odd : even, load<u16>(at))
}

function countDifferences(row: usize): void {
  const far = <usize>reach << 1
  const end = row + (<usize>(width - reach) << 1)
  for (let at = row + (<usize>start << 1); at < end; at += 4)
    bump(differences, 65536 + <u32>load<u16>(at + far) - <u32>load<u16>(at))
}

/** Adds a row to the sums of its columns; rounded up to 8 columns. */
function addColumns(row: usize, sums: usize): void {
  for (let x = 0; x < width; x += 8, row += 16, sums += 32) {
    const w = v128.load(row)
    v128.store(sums, i32x4.add(v128.load(sums), i32x4.extend_low_i16x8_u(w)))
    v128.store(sums, i32x4.add(v128.load(sums, 16), i32x4.extend_high_i16x8_u(w)), 16)
  }
}
