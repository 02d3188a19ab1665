import { closeSync, openSync, readFileSync } from 'node:fs'
import { join } from 'node:path'
import fc from 'fast-check'
import { describe, expect, test } from 'vitest'
import { parseHeader, readFitsInfo, openImage, verifyChecksums } from '../../main/fits/index.ts'
import { formatCard, printable } from '../../main/fits/write-cards.ts'
import { encodeFits, openFitsWriter, type NewCard, type NewImage, type WritableSamples } from '../../main/fits/write.ts'
import { fileOf, temporaryFolder } from './files.ts'

const W = 37
const H = 23
const ramp = { length: W * H }
const IMAGES: [string, Pick<NewImage, 'bitpix' | 'unsigned'>, WritableSamples][] = [
  ['bytes', { bitpix: 8 }, Uint8Array.from(ramp, (_, i) => i)],
  ['16-bit integers', { bitpix: 16 }, Int16Array.from(ramp, (_, i) => i * 77 - 30000)],
  ['unsigned 16-bit integers', { bitpix: 16, unsigned: true }, Uint16Array.from(ramp, (_, i) => i * 77)],
  ['floats', { bitpix: -32 }, Float32Array.from(ramp, (_, i) => (i === 5 ? NaN : i / 7))],
]
const sources: NewImage['extensions'] = [
  {
    name: 'SOURCES',
    columns: [
      { name: 'FILE', type: 'text', values: ['a.fits', 'longer name.fits'] },
      { name: 'ROWS', type: 'int32', values: [1, -2], unit: 'count' },
      { name: 'EXPTIME', type: 'float64', values: [1.5, -2.25], unit: 's' },
    ],
  },
]

describe.each(IMAGES)('an image of %s', (_, kind, image) => {
  const spec = { width: W, height: H, cards: [{ keyword: 'EXPTIME', value: 300 }], extensions: sources, ...kind }

  test('is read back as it was written', () => {
    const path = fileOf(encodeFits({ ...spec, image }))
    using reader = openImage(path)
    expect(reader.readAll()).toEqual(image)
    expect(readFitsInfo(path)).toMatchObject({ state: 'complete', units: [{}, { extension: 'BINTABLE' }] })
    expect(verifyChecksums(path)).toEqual([
      { data: true, whole: true },
      { data: true, whole: true },
    ])
  })

  test('comes out the same written row by row into a file', () => {
    const path = join(temporaryFolder(), 'rows.fits')
    const fd = openSync(path, 'w')
    const writer = openFitsWriter(fd, spec)
    for (let y = 0; y < H; y += 2) writer.writeRows(image.subarray(y * W, Math.min(H, y + 2) * W))
    const { length } = writer.finish()
    closeSync(fd)
    const bytes = readFileSync(path)
    expect(bytes.length).toBe(length)
    expect(bytes.equals(encodeFits({ ...spec, image }))).toBe(true)
  })

  test('leaves the caller’s pixels as they were', () => {
    const before = image.slice()
    encodeFits({ ...spec, image })
    expect(image).toEqual(before)
  })
})

describe('cards', () => {
  const one = (card: NewCard) => formatCard(card)[0]

  test('stand in the columns of fixed format', () => {
    // FITS standard 3.0 pages, 4.2: strings from column 11, logical in column 30, numbers right-justified to column 30.
    expect(one({ keyword: 'NAME', value: 'dark' })).toBe("NAME    = 'dark    '".padEnd(80))
    expect(one({ keyword: 'YES', value: true, comment: 'is so' })).toBe(
      ('YES     = ' + 'T'.padStart(20) + ' / is so').padEnd(80),
    )
    expect(one({ keyword: 'GAIN', value: 120 })).toBe(('GAIN    = ' + '120'.padStart(20)).padEnd(80))
    expect(one({ keyword: 'EXPTIME', value: 300, real: true }).trimEnd()).toBe('EXPTIME = ' + '300.0'.padStart(20))
    expect(one({ keyword: 'TINY', value: 1.5e-7 }).trimEnd()).toBe('TINY    = ' + '1.5E-7'.padStart(20))
    expect(one({ keyword: 'HUGE', value: 1e21 }).trimEnd()).toBe('HUGE    = ' + '1.0E21'.padStart(20))
    expect(one({ keyword: 'NONE', value: null })).toBe('NONE    = '.padEnd(80))
  })

  test('that FITS cannot hold are refused', () => {
    for (const keyword of ['TOO-LONG-KEYWORD?', 'KEY.WORD', 'A  B', 'X'.repeat(41)])
      expect(() => formatCard({ keyword, value: 1 })).toThrow(RangeError)
    for (const value of [NaN, Infinity]) expect(() => formatCard({ keyword: 'KEY', value })).toThrow(RangeError)
  })

  test('take text in other scripts in the letters that FITS has', () => {
    expect(printable('−10 °C, 5 µm, Café “Größe”\n日')).toBe('-10 degC, 5 um, Cafe "Grosse" ?')
  })

  test('of the structure are the writer’s own, whatever the caller gives', () => {
    const cards = [
      { keyword: 'NAXIS1', value: 9 },
      { keyword: 'BZERO', value: 5 },
      { keyword: 'CHECKSUM', value: 'x' },
      { keyword: 'TTYPE1', value: 'x' },
    ]
    const header = parseHeader(
      encodeFits({ width: 1, height: 1, bitpix: 8, cards, image: new Uint8Array(1), checksum: false }),
    )
    expect(header.cards.map(({ keyword }) => keyword)).toEqual(['SIMPLE', 'BITPIX', 'NAXIS', 'NAXIS1', 'NAXIS2'])
    expect(header.number('NAXIS1')).toBe(1)
  })
})

const printables = fc.string({
  unit: fc.constantFrom(...Array.from({ length: 95 }, (_, i) => String.fromCharCode(32 + i))),
  maxLength: 300,
})
const readBack = (card: NewCard) => parseHeader(Buffer.from(formatCard(card).join('') + 'END'.padEnd(80), 'latin1'))

describe('what is written is read', () => {
  test('any text, at any length', () => {
    fc.assert(
      fc.property(printables, fc.boolean(), (text, long) => {
        const keyword = long ? 'A HIERARCH NAME' : 'KEY'
        const header = readBack({ keyword, value: text, comment: 'a comment' })
        expect(header.cards).toHaveLength(1)
        expect((header.value(keyword) as string).trimEnd()).toBe(text.trimEnd())
      }),
    )
  })

  test('texts of quotes and ampersands that fall on the ends of cards', () => {
    for (const unit of ["'", '&', "&'", "'&", ' ', "''&'"])
      for (let length = 60; length < 80; length++) {
        const text = 'x'.repeat(length) + unit.repeat(20) + 'end'
        expect(readBack({ keyword: 'KEY', value: text }).value('KEY')).toBe(text)
      }
  })

  test('any number', () => {
    fc.assert(
      fc.property(fc.double({ noNaN: true, noDefaultInfinity: true }), fc.boolean(), (value, real) => {
        // -0 may come back as 0.
        expect(readBack({ keyword: 'KEY', value, real }).number('KEY')! + 0).toBe(value + 0)
      }),
    )
  })

  test('commentary of any length, in pieces of 72', () => {
    const text = 'word '.repeat(40).trimEnd()
    expect(
      readBack({ keyword: 'HISTORY', value: text })
        .texts('HISTORY')
        .map((t) => t.padEnd(72))
        .join('')
        .trimEnd(),
    ).toBe(text)
  })
})

test('a value that is known only after the pixels may be given at the end', () => {
  const path = join(temporaryFolder(), 'late.fits')
  const fd = openSync(path, 'w')
  const writer = openFitsWriter(fd, { width: 2, height: 1, bitpix: 8, cards: [{ keyword: 'MEDIAN', value: null }] })
  writer.writeRows(new Uint8Array([3, 5]))
  expect(() => writer.finish(new Array(40).fill({ keyword: 'HISTORY', value: 'too much' }))).toThrow(RangeError)
  writer.finish([{ keyword: 'MEDIAN', value: 4 }])
  closeSync(fd)
  expect(readFitsInfo(path).header.number('MEDIAN')).toBe(4)
  expect(verifyChecksums(path)).toEqual([{ data: true, whole: true }])
})

test('a caller’s slips are told before a byte is written', () => {
  const base = { width: 2, height: 2, cards: [] }
  expect(() => encodeFits({ ...base, bitpix: 16, image: new Uint16Array(4) })).toThrow(TypeError)
  expect(() => encodeFits({ ...base, bitpix: 8, unsigned: true, image: new Uint8Array(4) })).toThrow(RangeError)
  expect(() => encodeFits({ ...base, bitpix: 8, image: new Uint8Array(3) })).toThrow(RangeError)
  expect(() => encodeFits({ ...base, bitpix: 8, image: new Uint8Array(6) })).toThrow(RangeError)
  expect(() => encodeFits({ ...base, bitpix: 8, image: new Uint8Array(2) })).toThrow(
    /2 rows were announced and 1 written/,
  )
  expect(() => encodeFits({ ...base, width: 0, bitpix: 8, image: new Uint8Array(0) })).toThrow(RangeError)
})
