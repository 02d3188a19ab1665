/**
 * Rice decompression as the FITS standard defines it (4.0, 10.4.1, after Rice, Yeh & Miller 1993): the first pixel as it is, then
 * per block of pixels a code length and the mapped differences.
 */

export type BytePix = 1 | 2 | 4

interface Variant {
  /** Bits of a block's code length. */
  fsBits: number
  /** The code length that announces differences written out in full. */
  fsFull: number
  pixelBits: number
}

const VARIANTS: Record<BytePix, Variant> = {
  1: { fsBits: 3, fsFull: 6, pixelBits: 8 },
  2: { fsBits: 4, fsFull: 14, pixelBits: 16 },
  4: { fsBits: 5, fsFull: 25, pixelBits: 32 },
}

/** The least bytes that `pixels` pixels can come from: what a claim is held against before anything is allocated. */
export function leastRiceBytes(pixels: number, bytePix: BytePix, blockSize: number): number {
  return bytePix + Math.floor((Math.ceil(pixels / blockSize) * VARIANTS[bytePix].fsBits) / 8)
}

/**
 * Decodes `out.length` pixels; each is stored modulo the width of `out`'s elements. One function and not three, one for each sort of
 * block: the bit buffer is local to it, and handing it around takes longer than decoding.
 * @returns false where the bytes run out or make no sense
 */
export function decodeRice(
  bytes: Uint8Array,
  blockSize: number,
  bytePix: BytePix,
  out: Uint8Array | Int16Array | Int32Array,
): boolean {
  const { fsBits, fsFull, pixelBits } = VARIANTS[bytePix]
  const length = bytes.length
  if (length < bytePix) return false
  let last = 0
  for (let i = 0; i < bytePix; i++) last = (last << 8) | bytes[i]
  let at = bytePix
  /** The low `have` bits of `bits` are read and not used yet; the rest of it is zero. */
  let bits = 0
  let have = 0
  for (let i = 0; i < out.length;) {
    const end = Math.min(i + blockSize, out.length)
    while (have < fsBits) {
      if (at >= length) return false
      bits = (bits << 8) | bytes[at++]
      have += 8
    }
    have -= fsBits
    const fs = (bits >>> have) - 1
    bits &= (1 << have) - 1
    if (fs < 0) {
      out.fill(last, i, end)
      i = end
    } else if (fs === fsFull) {
      for (; i < end; i++) {
        // Up to 7 bits are left over from before: the pixel is put together from those, whole bytes, and the top of one more.
        let missing = pixelBits - have
        let code = missing < 32 ? bits << missing : 0
        while (missing >= 8) {
          if (at >= length) return false
          missing -= 8
          code |= bytes[at++] << missing
        }
        if (missing > 0) {
          if (at >= length) return false
          have = 8 - missing
          code |= bytes[at] >>> have
          bits = bytes[at++] & ((1 << have) - 1)
        } else {
          have = 0
          bits = 0
        }
        last = (last + (code & 1 ? ~(code >>> 1) : code >>> 1)) | 0
        out[i] = last
      }
    } else if (fs > fsFull) {
      return false
    } else {
      for (; i < end; i++) {
        let zeros = 0
        while (bits === 0) {
          if (at >= length) return false
          zeros += have
          bits = bytes[at++]
          have = 8
        }
        const top = 31 - Math.clz32(bits)
        zeros += have - top - 1
        have = top
        bits ^= 1 << top
        while (have < fs) {
          if (at >= length) return false
          bits = (bits << 8) | bytes[at++]
          have += 8
        }
        have -= fs
        const code = (zeros << fs) | (bits >>> have)
        bits &= (1 << have) - 1
        last = (last + (code & 1 ? ~(code >>> 1) : code >>> 1)) | 0
        out[i] = last
      }
    }
  }
  return true
}
