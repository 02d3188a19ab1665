import { describe, expect, test } from 'vitest'
import { readRange } from '../../main/host/files.ts'

describe('one byte range, as RFC 9110 section 14.1.2 writes it', () => {
  // The examples of that section, for a representation of 10 000 bytes.
  test.each([
    ['bytes=0-499', { start: 0, end: 499 }],
    ['bytes=500-999', { start: 500, end: 999 }],
    ['bytes=-500', { start: 9_500, end: 9_999 }],
    ['bytes=9500-', { start: 9_500, end: 9_999 }],
  ])('%s', (range, part) => expect(readRange(range, 10_000)).toEqual(part))

  test.each([
    ['bytes=9999-20000', { start: 9_999, end: 9_999 }],
    ['bytes=-20000', { start: 0, end: 9_999 }],
    ['bytes=10000-', 'beyond'],
    ['bytes=-0', 'beyond'],
  ])('ends at the end of the file: %s', (range, part) => expect(readRange(range, 10_000)).toEqual(part))

  test.each([undefined, '', 'bytes=', 'bytes=-', 'bytes=5-4', 'bytes=0-1,3-4', 'lines=0-1', 'bytes=a-b', 'bytes=1e3-'])(
    'is ignored where it is malformed or several, and the whole file is answered: %s',
    (range) => expect(readRange(range, 10_000)).toBeNull(),
  )

  test('has nothing to give of an empty file', () => {
    expect(readRange('bytes=0-', 0)).toBe('beyond')
    expect(readRange('bytes=-5', 0)).toBe('beyond')
  })
})
