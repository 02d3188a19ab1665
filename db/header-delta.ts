/**
 * What differs between two byte strings of one length, as runs: offset of the run from the end of the last one (two bytes,
 * big-endian), its length (one byte), its bytes. Headers of one night differ in a few digits of a few cards, so a header
 * of 5 760 bytes becomes about a hundred; deflating it against the same pattern takes ten times as long and saves no more.
 */
const MOST_GAP = 0xffff
const MOST_RUN = 0xff
/** Fewer equal bytes than this between two differing ones stay inside the run: a new run would cost as much. */
const BRIDGE = 3
/** Bytes that are compared in one go, two cards. */
const AT_ONCE = 160

const scratch = Buffer.allocUnsafeSlow(1 << 17)

/**
 * @param most give up beyond so many bytes
 * @returns null where the lengths differ or there is more to tell than `most`
 */
export function deltaOf(pattern: Uint8Array, bytes: Uint8Array, most: number): Buffer | null {
  if (pattern.length !== bytes.length || most > scratch.length - MOST_RUN - 3) return null
  const [from, to] = [asBuffer(pattern), asBuffer(bytes)]
  let size = 0
  let told = 0
  for (let at = 0; ;) {
    at = nextDifference(from, to, at)
    if (at === bytes.length) return Buffer.copyBytesFrom(scratch, 0, size)
    const end = endOfRun(pattern, bytes, at)
    const gap = at - told
    if (gap > MOST_GAP || size > most) return null
    scratch.writeUInt16BE(gap, size)
    scratch[size + 2] = end - at
    for (let i = at; i < end; i++) scratch[size + 3 + i - at] = bytes[i]
    size += 3 + end - at
    told = at = end
  }
}

const asBuffer = (bytes: Uint8Array) => Buffer.from(bytes.buffer, bytes.byteOffset, bytes.byteLength)

/** The first place from `at` on where they differ, or their end. Most of a header is equal: that is compared in one go. */
function nextDifference(a: Buffer, b: Buffer, at: number): number {
  while (at + AT_ONCE <= b.length && a.compare(b, at, at + AT_ONCE, at, at + AT_ONCE) === 0) at += AT_ONCE
  while (at < b.length && a[at] === b[at]) at++
  return at
}

function endOfRun(pattern: Uint8Array, bytes: Uint8Array, from: number): number {
  const last = Math.min(from + MOST_RUN, bytes.length)
  let end = from + 1
  for (let at = end; at < last && at - end < BRIDGE; at++) if (bytes[at] !== pattern[at]) end = at + 1
  return end
}

/** The bytes of which `delta` says what differs from `pattern`. */
export function applyDelta(pattern: Uint8Array, delta: Uint8Array): Buffer {
  const bytes = Buffer.from(pattern)
  for (let at = 0, place = 0; at < delta.length;) {
    place += (delta[at] << 8) | delta[at + 1]
    const length = delta[at + 2]
    bytes.set(delta.subarray(at + 3, at + 3 + length), place)
    place += length
    at += 3 + length
  }
  return bytes
}
