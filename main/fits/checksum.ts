/** The FITS checksum (standard 4.0, 4.4.2.7 and appendix J): a 32-bit one's-complement sum of big-endian words. */

/**
 * Adds `bytes` to the sum of a unit; what is missing of a last word counts as zeros.
 * @param position of the first byte in its unit: a sum may be carried on from part to part at any byte
 */
export function sumWords(bytes: Uint8Array, sum = 0, position = 0): number {
  const view = new DataView(bytes.buffer, bytes.byteOffset, bytes.byteLength)
  const first = Math.min((4 - (position % 4)) % 4, bytes.length)
  const end = first + 4 * Math.floor((bytes.length - first) / 4)
  // A double holds the sum of 2^21 words exactly; the carries go back in before that.
  for (let from = first; from < end; from += 1 << 22) {
    const to = Math.min(end, from + (1 << 22))
    for (let at = from; at < to; at += 4) sum += view.getUint32(at)
    sum = fold(sum)
  }
  for (let at = 0; at < first; at++) sum += placed(bytes[at], position + at)
  for (let at = end; at < bytes.length; at++) sum += placed(bytes[at], position + at)
  return fold(sum)
}

const placed = (byte: number, position: number): number => byte * 2 ** (24 - 8 * (position % 4))

/** Brings the carries of a sum back in at the low end. */
export function fold(sum: number): number {
  while (sum > 0xffffffff) sum = (sum % 0x100000000) + Math.floor(sum / 0x100000000)
  return sum
}

const isPunctuation = (code: number): boolean => (code >= 0x3a && code <= 0x40) || (code >= 0x5b && code <= 0x60)

/**
 * A sum as the 16 characters of CHECKSUM. Written over the zeros `0000000000000000` of a header whose unit sums to `sum`, they make
 * the whole sum to 0xFFFFFFFF.
 * @param complement true (as for CHECKSUM) to encode the sum's complement
 */
export function encodeChecksum(sum: number, complement = true): string {
  const value = (complement ? ~sum : sum) >>> 0
  const characters: number[] = new Array(16)
  for (let i = 0; i < 4; i++) {
    const byte = (value >>> (24 - 8 * i)) & 255
    const quarter = Math.floor(byte / 4) + 0x30
    const group = [quarter + (byte % 4), quarter, quarter, quarter]
    // Punctuation is moved off in pairs, so that the sum of the four stays the byte.
    while (group.some(isPunctuation))
      for (const pair of [0, 2])
        if (isPunctuation(group[pair]) || isPunctuation(group[pair + 1])) {
          group[pair]++
          group[pair + 1]--
        }
    for (let k = 0; k < 4; k++) characters[4 * k + i] = group[k]
  }
  const text = String.fromCharCode(...characters)
  return text[15] + text.slice(0, 15)
}

/** The sum that 16 characters of CHECKSUM stand for: the inverse of `encodeChecksum`. */
export function decodeChecksum(text: string, complement = true): number {
  const turned = text.slice(1) + text[0]
  let sum = 0
  for (let at = 0; at < 16; at++) sum += (turned.charCodeAt(at) - 0x30) * 2 ** (24 - 8 * (at % 4))
  sum = fold(sum)
  return (complement ? ~sum : sum) >>> 0
}
