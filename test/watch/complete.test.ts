import { execFileSync } from 'node:child_process'
import { mkdirSync, symlinkSync, writeFileSync } from 'node:fs'
import { join } from 'node:path'
import { gzipSync } from 'node:zlib'
import { afterEach, describe, expect, test } from 'vitest'
import { lookAt } from '../../main/watch/complete.ts'
import { isFitsName } from '../../main/watch/names.ts'
import { rawTileFile } from '../fits/files.ts'
import { fitsBytes, freshFolder } from './files.ts'

const folder = freshFolder()
afterEach(() => folder.remove())
const whole = fitsBytes()
const look = (bytes: Uint8Array, name = 'frame.fits') => {
  mkdirSync(folder.path, { recursive: true })
  writeFileSync(join(folder.path, name), bytes)
  return lookAt(join(folder.path, name))
}
const leastLength = 2880 + 40 * 50 * 2

describe('a file is complete when its own header says so', () => {
  test('with every byte that it announces', () => {
    expect(look(whole)).toMatchObject({ state: 'complete', stat: { size: whole.length } })
  })

  test.each([
    ['empty', 0],
    ['one byte', 1],
    ['half a header', 1000],
    ['a header alone', 2880],
    ['half of the data', 4000],
    ['one byte of data short', leastLength - 1],
  ])('not while it is %s', (_what, length) => {
    expect(look(whole.subarray(0, length)).state).toBe('growing')
  })

  test('without its padding it may be whole or have a block to come', () => {
    expect(look(whole.subarray(0, leastLength)).state).toBe('settling')
    expect(look(whole.subarray(0, whole.length - 1)).state).toBe('settling')
  })

  test('bytes behind its end do not matter', () => {
    expect(look(Buffer.concat([whole, Buffer.from('trailing')])).state).toBe('complete')
  })

  test('laid out in advance it holds only zeros', () => {
    expect(look(Buffer.alloc(whole.length))).toMatchObject({ state: 'growing' })
  })

  test('laid out in advance with its header written, its end is zeros', () => {
    const laidOut = Buffer.alloc(whole.length)
    whole.copy(laidOut, 0, 0, 4000)
    expect(look(laidOut)).toMatchObject({ state: 'settling', zeros: 'many' })
    whole.copy(laidOut, 0, 0, leastLength - 10)
    expect(look(laidOut)).toMatchObject({ state: 'settling', zeros: 'many' })
    whole.copy(laidOut, 0, 0, leastLength)
    expect(look(laidOut).state).toBe('complete')
  })

  test('a last pixel of zero is no sign of a hole by itself', () => {
    const bytes = Buffer.from(whole)
    bytes.fill(0, leastLength - 2, leastLength)
    expect(look(bytes)).toMatchObject({ state: 'settling', zeros: 'few' })
  })

  // Rows of 400 samples unpack to 800 bytes (20 03 00 00 at the end), of 20 to 40 (28 00 00 00): RFC 1952, 2.3.1.
  test.each([400, 20])('packed with gzip in rows of %i samples it ends in zeros that belong to it', (width) => {
    const rows = [1, 2, 3].map((row) => Uint8Array.from({ length: width * 2 }, (_, i) => (i * row) % 251))
    const packed = rawTileFile({
      bitpix: 16,
      axes: [width, rows.length],
      method: 'GZIP_1',
      tiles: rows.map((row) => ({ COMPRESSED_DATA: gzipSync(row) })),
    })
    expect(look(packed, 'frame.fits.fz')).toMatchObject({ state: 'complete' })
    const laidOut = Buffer.from(packed)
    const end = packed.lastIndexOf(gzipSync(rows[2])) + gzipSync(rows[2]).length
    laidOut.fill(0, end - 20)
    expect(look(laidOut, 'frame.fits.fz')).toMatchObject({ state: 'settling', zeros: 'many' })
  })
})

describe('what is no frame', () => {
  test('text under a FITS name', () => {
    expect(look(Buffer.from('not a frame at all'))).toMatchObject({ state: 'unusable', code: 'not-fits' })
  })

  test('a size that no file has', () => {
    const bytes = Buffer.from(
      whole.toString('latin1').replace('                  40', '          1000000000'),
      'latin1',
    )
    expect(look(bytes).state).toBe('growing')
  })

  test('a folder and a pipe are not opened, and nothing waits for them', () => {
    mkdirSync(join(folder.path, 'x.fits'), { recursive: true })
    expect(lookAt(join(folder.path, 'x.fits'))).toMatchObject({ state: 'unusable', code: 'unreadable' })
    execFileSync('mkfifo', [join(folder.path, 'pipe.fits')])
    expect(lookAt(join(folder.path, 'pipe.fits'))).toMatchObject({
      state: 'unusable',
      reason: expect.stringContaining('pipe'),
    })
  })

  test('a link to itself, a name that is not there', () => {
    mkdirSync(folder.path, { recursive: true })
    symlinkSync(join(folder.path, 'loop.fits'), join(folder.path, 'loop.fits'))
    expect(lookAt(join(folder.path, 'loop.fits'))).toMatchObject({ state: 'unusable', code: 'unreadable' })
    expect(lookAt(join(folder.path, 'nothing.fits'))).toEqual({ state: 'gone' })
  })
})

test.each([
  ['a.fits', true],
  ['a.fit', true],
  ['a.FTS', true],
  ['a.fits.fz', true],
  ['a.FZ', true],
  ['a.fits.tmp', false],
  ['fits', false],
  ['a.fits.gz', false],
])('%s counts as a FITS name: %s', (name, counts) => {
  expect(isFitsName(name)).toBe(counts)
})
