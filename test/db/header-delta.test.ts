import fc from 'fast-check'
import { expect, test } from 'vitest'
import { applyDelta, deltaOf } from '../../db/header-delta.ts'

test('equal bytes have an empty delta; one digit costs four bytes', () => {
  const pattern = Buffer.from('EXPTIME =                300.0'.padEnd(2880))
  expect(deltaOf(pattern, pattern, 100)).toEqual(Buffer.alloc(0))
  const other = Buffer.from(pattern)
  other[25] = 0x36
  // Offset 25 in two bytes, one byte differs, the byte.
  expect(deltaOf(pattern, other, 100)).toEqual(Buffer.from([0, 25, 1, 0x36]))
})

test('whatever differs, the delta brings back every byte', () => {
  const pair = fc
    .nat({ max: 3000 })
    .chain((length) =>
      fc.tuple(
        fc.uint8Array({ minLength: length, maxLength: length }),
        fc.array(fc.tuple(fc.nat({ max: 3000 }), fc.nat({ max: 255 })), { maxLength: 400 }),
      ),
    )
  fc.assert(
    fc.property(pair, ([pattern, changes]) => {
      const bytes = Buffer.from(pattern)
      for (const [at, value] of changes) if (at < bytes.length) bytes[at] = value
      const delta = deltaOf(pattern, bytes, 100_000)
      expect(delta && applyDelta(pattern, delta).equals(bytes)).toBe(true)
    }),
    { numRuns: 300 },
  )
})

test('another length, or more than the caller allows, is no delta', () => {
  expect(deltaOf(Buffer.alloc(10), Buffer.alloc(11), 100)).toBeNull()
  expect(deltaOf(Buffer.alloc(1000), Buffer.alloc(1000, 1), 100)).toBeNull()
})

test('differences more than 65 535 bytes apart are no delta, and none is made up', () => {
  const bytes = Buffer.alloc(80_000)
  bytes[70_000] = 1
  expect(deltaOf(Buffer.alloc(80_000), bytes, 1000)).toBeNull()
})
