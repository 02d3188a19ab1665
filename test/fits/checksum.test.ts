import { expect, test } from 'vitest'
import fc from 'fast-check'
import { decodeChecksum, encodeChecksum, sumWords } from '../../main/fits/checksum.ts'
import { verifyChecksums } from '../../main/fits/verify.ts'
import { encodeFits } from '../../main/fits/write.ts'
import { fileOf, rawImage, record } from './files.ts'

test('the published encoding example comes out', () => {
  // heasarc.gsfc.nasa.gov, FITS checksum proposal, "Encoding Example" (node14) and node17: 868229149, whose complement is 0xCC3FDFE2.
  expect((~868229149 >>> 0).toString(16)).toBe('cc3fdfe2')
  expect(encodeChecksum(868229149)).toBe('hcHjjc9ghcEghc9g')
  expect(decodeChecksum('hcHjjc9ghcEghc9g')).toBe(868229149)
})

test('carries come back in at the low end', () => {
  expect(sumWords(Buffer.from('ffffffff00000001', 'hex'))).toBe(1)
  expect(sumWords(Buffer.from('8000000080000000', 'hex'))).toBe(1)
  expect(sumWords(new Uint8Array(2880))).toBe(0)
})

test('a sum does not depend on how the bytes are cut', () => {
  fc.assert(
    fc.property(fc.uint8Array({ maxLength: 64 }), fc.uint8Array({ maxLength: 64 }), (a, b) => {
      expect(sumWords(b, sumWords(a), a.length)).toBe(sumWords(Buffer.concat([a, b])))
    }),
  )
})

test('encoding is alphanumeric and can be undone', () => {
  fc.assert(
    fc.property(fc.integer({ min: 0, max: 0xffffffff }), (sum) => {
      const text = encodeChecksum(sum)
      expect(text).toMatch(/^[0-9A-Za-z]{16}$/)
      expect(decodeChecksum(text)).toBe(sum)
    }),
  )
})

const image = {
  width: 5,
  height: 3,
  bitpix: 8 as const,
  cards: [],
  image: Uint8Array.from({ length: 15 }, (_, i) => i),
}

test('a written unit sums to all ones, in memory as in the file', () => {
  expect(sumWords(encodeFits(image))).toBe(0xffffffff)
  expect(verifyChecksums(fileOf(encodeFits(image)))).toEqual([{ data: true, whole: true }])
})

test('one flipped bit is found, in the data and in the header', () => {
  const bytes = encodeFits(image)
  const data = Buffer.from(bytes)
  data[2885] ^= 4
  expect(verifyChecksums(fileOf(data))).toEqual([{ data: false, whole: false }])
  const header = Buffer.from(bytes)
  header[2000] ^= 1
  expect(verifyChecksums(fileOf(header))).toEqual([{ data: true, whole: false }])
})

test('a file without sums says so', () => {
  const file = rawImage(8, [2, 2], new Uint8Array(4), [record('EXPTIME', 1)])
  expect(verifyChecksums(fileOf(file))).toEqual([{ data: null, whole: null }])
})
