import { execFileSync } from 'node:child_process'
import { chmodSync, closeSync, mkdirSync, openSync, readFileSync, symlinkSync } from 'node:fs'
import { join } from 'node:path'
import { describe, expect, test } from 'vitest'
import { FitsError } from '../../main/fits/error.ts'
import { readFitsInfo } from '../../main/fits/file.ts'
import { fileOf, paddedData, rawHeader, rawImage, rawTileFile, record, temporaryFolder } from './files.ts'

const primary = (...more: string[]) => [record('SIMPLE', 'T'), record('BITPIX', 8), record('NAXIS', 0), ...more]
const image100 = rawImage(16, [100, 100], new Uint8Array(20_000))

/** The refusal's code; the sentence must be one sentence for a person. */
function refusalOf(path: string): string {
  try {
    readFitsInfo(path)
  } catch (error) {
    if (!(error instanceof FitsError)) throw error
    expect(error.message).toMatch(/^[A-Z][^\n]{20,}\.$/)
    return error.code
  }
  return 'none'
}

describe('the length that a file must have', () => {
  // |BITPIX|/8 × GCOUNT × (PCOUNT + NAXIS1 × … × NAXISm), in blocks of 2880 bytes: FITS standard, GCOUNT.
  test('a plain image ends with its data, padded to a whole block', () => {
    const info = readFitsInfo(fileOf(image100))
    expect(info).toMatchObject({
      fileSize: 23040,
      expectedLength: 23040,
      leastLength: 22880,
      state: 'complete',
      imageCompression: null,
    })
    expect(info.image).toEqual({ width: 100, height: 100, planes: 1, bitpix: 16, axes: [100, 100] })
  })

  test('a tail without its padding is complete, one byte less is not', () => {
    expect(readFitsInfo(fileOf(image100.subarray(0, 22880))).state).toBe('complete')
    expect(readFitsInfo(fileOf(image100.subarray(0, 22879))).state).toBe('data cut')
  })

  test('a header alone says how long its file will be', () => {
    expect(readFitsInfo(fileOf(image100.subarray(0, 2880)))).toMatchObject({ expectedLength: 23040, state: 'data cut' })
  })

  test('the table of a compressed image counts with its heap, 64-bit descriptors or not', () => {
    for (const long of [false, true]) {
      const bytes = rawTileFile({
        bitpix: 8,
        axes: [4, 1],
        method: 'GZIP_1',
        tiles: [{ COMPRESSED_DATA: new Uint8Array(7) }],
        long,
      })
      const cell = long ? 16 : 8
      expect(readFitsInfo(fileOf(bytes))).toMatchObject({
        leastLength: 2880 * 2 + cell + 7,
        imageCompression: 'GZIP_1',
      })
    }
  })

  test('a primary header that announces extensions waits for the first', () => {
    const alone = rawHeader(primary(record('EXTEND', 'T')))
    expect(readFitsInfo(fileOf(alone)).state).toBe('extension awaited')
    const begun = Buffer.concat([alone, rawHeader([record('XTENSION', "'IMAGE'")], { end: false, pad: false })])
    expect(readFitsInfo(fileOf(begun)).state).toBe('header cut')
    expect(readFitsInfo(fileOf(Buffer.concat([alone, Buffer.from('XTE')]))).state).toBe('header cut')
  })

  test('random groups leave out the axis of length 0', () => {
    const groups = rawHeader([
      record('SIMPLE', 'T'),
      record('BITPIX', -32),
      record('NAXIS', 3),
      record('NAXIS1', 0),
      record('NAXIS2', 3),
      record('NAXIS3', 4),
      record('GROUPS', 'T'),
      record('PCOUNT', 6),
      record('GCOUNT', 10),
    ])
    // 4 × 10 × (6 + 3 × 4) = 720
    expect(readFitsInfo(fileOf(groups))).toMatchObject({ leastLength: 2880 + 720, image: null })
  })

  test('stray bytes after the last unit are left alone', () => {
    const info = readFitsInfo(fileOf(Buffer.concat([image100, Buffer.from('something else')])))
    expect(info).toMatchObject({ expectedLength: 23040, state: 'complete' })
  })
})

describe('the image and its header', () => {
  const extension = (name: string, width: number, more: string[] = []) =>
    Buffer.concat([
      rawHeader([
        record('XTENSION', "'IMAGE'"),
        record('BITPIX', 16),
        record('NAXIS', 2),
        record('NAXIS1', width),
        record('NAXIS2', 2),
        record('PCOUNT', 0),
        record('GCOUNT', 1),
        record('EXTNAME', `'${name}'`),
        ...more,
      ]),
      paddedData(new Uint8Array(width * 4)),
    ])

  test('the first extension with data serves where the primary has none, and takes over what it lacks', () => {
    const file = Buffer.concat([
      rawHeader(primary(record('EXTEND', 'T'), record('GAIN', 100), record('EXPTIME', 300), 'HISTORY of the primary')),
      extension('EMPTY', 0),
      extension('SCI', 3, [record('EXPTIME', 30)]),
      extension('ERR', 4),
    ])
    const info = readFitsInfo(fileOf(file))
    expect(info.image).toMatchObject({ width: 3, height: 2 })
    expect(info.units).toHaveLength(4)
    expect(info.header.number('GAIN')).toBe(100)
    expect(info.header.number('EXPTIME')).toBe(30)
    expect(info.header.number('NAXIS1')).toBe(3)
    expect(info.header.texts('HISTORY')).toEqual([])
  })

  test('INHERIT = F takes nothing over', () => {
    const file = Buffer.concat([
      rawHeader(primary(record('EXTEND', 'T'), record('GAIN', 100))),
      extension('SCI', 3, [record('INHERIT', 'F')]),
    ])
    expect(readFitsInfo(fileOf(file)).header.has('GAIN')).toBe(false)
  })

  test('a compressed image has the header that it had before', () => {
    const file = rawTileFile({
      bitpix: 16,
      axes: [4, 2],
      tile: [4, 1],
      method: 'GZIP_1',
      tiles: [{ COMPRESSED_DATA: new Uint8Array(9) }, { COMPRESSED_DATA: new Uint8Array(9) }],
      more: [
        record('EXTNAME', "'COMPRESSED_IMAGE'"),
        record('ZSIMPLE', 'T'),
        record('ZHECKSUM', "'abc'"),
        record('CHECKSUM', "'of the table'"),
        record('BZERO', 32768),
        record('ZBLANK', -32768),
        record('EXPTIME', 300),
      ],
    })
    const { header } = readFitsInfo(fileOf(file))
    expect(Object.fromEntries(header.cards.map(({ keyword, value }) => [keyword, value]))).toEqual({
      SIMPLE: true,
      BITPIX: 16,
      NAXIS: 2,
      NAXIS1: 4,
      NAXIS2: 2,
      CHECKSUM: 'abc',
      BZERO: 32768,
      EXPTIME: 300,
      BLANK: -32768,
    })
  })

  test('the raw header bytes are the file’s own', () => {
    expect(Buffer.from(readFitsInfo(fileOf(image100)).headerBytes).equals(image100.subarray(0, 2880))).toBe(true)
  })

  test('an open descriptor serves as well and stays open', () => {
    const fd = openSync(fileOf(image100), 'r')
    expect(readFitsInfo(fd).image?.width).toBe(100)
    expect(readFitsInfo(fd).image?.width).toBe(100)
    closeSync(fd)
  })
})

describe('what is no readable FITS file', () => {
  const header = (...records: string[]) => fileOf(rawHeader(records))
  const shaped = (bitpix: number | string, ...axes: (number | string)[]) =>
    header(
      record('SIMPLE', 'T'),
      record('BITPIX', bitpix),
      record('NAXIS', axes.length),
      ...axes.map((axis, i) => record(`NAXIS${i + 1}`, axis)),
    )

  test.each<[string, () => string, string]>([
    ['an empty file', () => fileOf(Buffer.alloc(0)), 'empty'],
    ['zeros, as a writer leaves that reserves its space', () => fileOf(Buffer.alloc(8640)), 'blank'],
    ['a text with a FITS name', () => fileOf(Buffer.from('dear diary, the sky was clear')), 'not-fits'],
    ['a file packed as a whole', () => fileOf(Buffer.from('1f8b0800', 'hex')), 'not-fits'],
    ['the first letters of a header', () => fileOf(Buffer.from('SIMPL')), 'header-cut'],
    ['a header without END', () => fileOf(rawHeader(primary(), { end: false })), 'header-cut'],
    [
      'a header cut in its second block',
      () => fileOf(rawHeader(new Array(50).fill('COMMENT')).subarray(0, 3000)),
      'not-fits',
    ],
    ['no NAXIS', () => header(record('SIMPLE', 'T'), record('BITPIX', 8)), 'header-bad'],
    [
      'no NAXIS2',
      () => header(record('SIMPLE', 'T'), record('BITPIX', 8), record('NAXIS', 2), record('NAXIS1', 2)),
      'header-bad',
    ],
    ['BITPIX = 12', () => shaped(12, 3, 3), 'header-bad'],
    ['BITPIX as a string', () => shaped("'16'", 3, 3), 'header-bad'],
    ['a negative axis', () => shaped(16, -3, 3), 'header-bad'],
    ['an axis and a half', () => shaped(16, 1.5, 3), 'header-bad'],
    ['an axis beyond all numbers', () => shaped(16, '99999999999999999999', 3), 'size-impossible'],
    ['a product beyond all numbers', () => shaped(16, 1e9, 1e9), 'size-impossible'],
    ['1000 axes', () => header(record('SIMPLE', 'T'), record('BITPIX', 8), record('NAXIS', 1000)), 'header-bad'],
    ['999 axes of 2', () => shaped(8, ...new Array(999).fill(2)), 'size-impossible'],
    ['a file that is not there', () => join(temporaryFolder(), 'gone.fits'), 'unreadable'],
  ])('%s is refused in one sentence', (_, path, code) => {
    expect(refusalOf(path())).toBe(code)
  })

  test('NAXIS1 = 1e9 in a small file is a file that is cut, and nothing is allocated for it', () => {
    const path = shaped(16, 1e9, 3)
    const before = process.memoryUsage().arrayBuffers
    expect(readFitsInfo(path)).toMatchObject({ state: 'data cut', leastLength: 2880 + 6e9 })
    expect(process.memoryUsage().arrayBuffers - before).toBeLessThan(1e6)
  })

  test('a folder, a pipe and a link loop are refused and not waited for', () => {
    const folder = temporaryFolder()
    mkdirSync(join(folder, 'x.fits'))
    symlinkSync('loop.fits', join(folder, 'loop.fits'))
    execFileSync('mkfifo', [join(folder, 'pipe.fits')])
    for (const name of ['x.fits', 'loop.fits', 'pipe.fits']) expect(refusalOf(join(folder, name))).toBe('unreadable')
  })

  test.skipIf(process.getuid?.() === 0)('a file without permission is refused (not run as root)', () => {
    const path = fileOf(image100)
    chmodSync(path, 0)
    expect(refusalOf(path)).toBe('unreadable')
  })

  test('a header without END in a large file is given up after 4 MB', () => {
    const path = fileOf(Buffer.alloc(12_000_000, 'SIMPLE  =                    T'.padEnd(80)))
    const before = process.memoryUsage().arrayBuffers
    expect(refusalOf(path)).toBe('header-cut')
    expect(process.memoryUsage().arrayBuffers - before).toBeLessThan(readFileSync(path).length)
  })
})
