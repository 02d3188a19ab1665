import { describe, expect, test } from 'vitest'
import { decodeRice, leastRiceBytes } from '../../main/fits/rice.ts'

/**
 * 100 pixels of which 32 are equal, 32 near each other and 36 wild, so that a tile has all three sorts of block. The numbers are those of
 * the generator of the FITS standard (appendix I): seed 1, multiplied by 16807 modulo 2147483647.
 */
function pixels(low: number, base: number, noise: number, range: number, spread: number): number[] {
  let seed = 1n
  return Array.from({ length: 100 }, (_, i) => {
    seed = (seed * 16807n) % 2147483647n
    if (i < 32) return base
    return i < 64 ? base + Number(seed % BigInt(noise)) : low + Number((seed * BigInt(spread)) % BigInt(range))
  })
}

// Each tile was compressed by CFITSIO's own code through astropy 5.2.1 (CompImageHDU, RICE_1, blocks of 32).
const TILES = [
  {
    bytePix: 1 as const,
    tile: '1408a62546a4f84c4f296611e2f15d751d6204a28baada4e6c9e14087637218d58863d80f0cc5bbb0792bb8f75f38fde2aa56d80',
    expected: pixels(0, 20, 5, 256, 1),
    out: new Uint8Array(100),
  },
  {
    bytePix: 2 as const,
    tile: '03e805086489e6d44e8d89488aa62c44f582e10cdf04f6101368c885b3ee85b5b7194b072fcd0511545c22b996c9d27c936d44ecaf448047bc496e4f26e94c638ac144366e1acc0a079186737d24223fe7d9e36e55df1c675bb5f07f1c7e3e87c4ab789559b6',
    expected: pixels(-32768, 1000, 40, 65536, 1),
    out: new Int16Array(100),
  },
  {
    bytePix: 4 as const,
    tile: '000186a002d00179840e0a03ad0a4822196d1aac5522fe9106951763e304b124f546d8e500ef25a8c4e5334f473fd39ba999887e4b93c36be4982a53f0fa923dd299ad3d673e340d24ccbebd020455136a68f750eeb99a4cdb42749ee7f724df1293513c85bcd42fcff12010df71ef124efda46c11cc364075fdace26160e2b0e040510e9e8a647d7036b301e8dd7e1cda7b9e601624df4e313ef770e318060ec1c9872095c395705b8838e14c4e29109f6a83e209f838e35bc507d0fb7bc76a9b612f12895954c900',
    expected: pixels(-(2 ** 31), 100_000, 3000, 2 ** 32, 2),
    out: new Int32Array(100),
  },
]

describe.each(TILES)('Rice with $bytePix bytes a pixel', ({ bytePix, tile, expected, out }) => {
  const bytes = Buffer.from(tile, 'hex')

  test('gives back what CFITSIO compressed', () => {
    expect(decodeRice(bytes, 32, bytePix, out)).toBe(true)
    expect([...out]).toEqual(expected)
  })

  test('says where bytes are missing, at every length', () => {
    // The last byte may be filling, so the cut that must be seen begins one byte earlier.
    for (let length = 0; length < bytes.length - 1; length++)
      expect(decodeRice(bytes.subarray(0, length), 32, bytePix, out)).toBe(false)
  })

  test('the least length is never more than a real tile’s', () => {
    expect(leastRiceBytes(100, bytePix, 32)).toBeLessThanOrEqual(bytes.length)
  })
})

test('a tile of equal pixels is its first pixel and one code a block', () => {
  // 64 pixels of 7: the pixel in two bytes, then twice the 4-bit code 0 (FITS standard 4.0, 10.4.1).
  const out = new Int16Array(64)
  expect(decodeRice(Buffer.from('000700', 'hex'), 32, 2, out)).toBe(true)
  expect(out.every((pixel) => pixel === 7)).toBe(true)
  expect(leastRiceBytes(64, 2, 32)).toBe(3)
})

test('a code length that the method does not have is refused', () => {
  // 11111 would be 30; the highest code length of the four-byte form is 25.
  expect(decodeRice(Buffer.from('00000007ffffffffff', 'hex'), 32, 4, new Int32Array(4))).toBe(false)
})
