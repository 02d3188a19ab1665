import { writeFileSync } from 'node:fs'
import { join } from 'node:path'
import { gzipSync } from 'node:zlib'
import fc from 'fast-check'
import { describe, expect, test } from 'vitest'
import { FitsError, encodeFits, openImage, parseHeader, readFitsInfo, verifyChecksums } from '../../main/fits/index.ts'
import { decodeRice } from '../../main/fits/rice.ts'
import { rawHeader, rawTileFile, record, seeded, temporaryFolder } from './files.ts'

/** Everything that may be asked of a file. Only a FitsError may come of it. */
function readEverything(path: string): void {
  const attempts = [
    () => readFitsInfo(path).header.cards,
    () => verifyChecksums(path),
    () => {
      using reader = openImage(path)
      const rows = Math.min(reader.rows, 8)
      // A reader's width has been held against the file, so a strip of rows may be taken.
      reader.readRows(0, rows, new Float64Array(rows * reader.width))
      reader.readAll()
    },
  ]
  for (const attempt of attempts)
    try {
      attempt()
    } catch (error) {
      if (!(error instanceof FitsError)) throw error
      expect(error.message).toMatch(/^[A-Z][^\n]+\.$/)
    }
}

/** Milliseconds of processor time that `work` takes, the best of a few: others use this machine too. */
function elapsedMs(work: () => void): number {
  let best = Infinity
  for (let attempt = 0; attempt < 4 && best > 100; attempt++) {
    const before = process.threadCpuUsage()
    work()
    const { user, system } = process.threadCpuUsage(before)
    best = Math.min(best, (user + system) / 1000)
  }
  return best
}

const random = seeded(20261120)
const whole = (below: number) => Math.floor(random() * below)
const noise = Buffer.from(Array.from({ length: 64 * 48 * 2 }, () => whole(256)))
const rice = Buffer.from('03e805086489e6d44e8d89488aa62c44f582e10cdf04f6101368c885b3ee85b5', 'hex')

/** More by hand: `FUZZ_ROUNDS=20000 npx vitest run --project unit test/fits/fuzz`. */
const ROUNDS = Number(process.env.FUZZ_ROUNDS ?? 400)

/** Real files of every sort that the reader knows, small enough for thousands of rounds. */
const FILES: Record<string, Buffer> = {
  plain: encodeFits({
    width: 64,
    height: 48,
    bitpix: 16,
    unsigned: true,
    cards: [
      { keyword: 'EXPTIME', value: 300 },
      { keyword: 'LONG', value: 'x'.repeat(150) },
      { keyword: 'ESO INS POS', value: 1.5 },
      { keyword: 'HISTORY', value: 'a history' },
    ],
    image: new Uint16Array(noise.buffer.slice(noise.byteOffset, noise.byteOffset + noise.length)),
    extensions: [{ name: 'SOURCES', columns: [{ name: 'FILE', type: 'text', values: ['a', 'b'] }] }],
  }),
  rice: rawTileFile({
    bitpix: 16,
    axes: [60, 4],
    tile: [60, 2],
    method: 'RICE_1',
    tiles: [
      { COMPRESSED_DATA: Buffer.concat([rice, noise]) },
      { GZIP_COMPRESSED_DATA: gzipSync(noise.subarray(0, 240)) },
    ],
    more: [record('ZNAME1', "'BLOCKSIZE'"), record('ZVAL1', 32), record('ZNAME2', "'BYTEPIX'"), record('ZVAL2', 2)],
  }),
  gzip: rawTileFile({
    bitpix: -32,
    axes: [16, 8],
    tile: [8, 8],
    method: 'GZIP_2',
    tiles: [0, 1].map((i) => ({ COMPRESSED_DATA: gzipSync(noise.subarray(i * 256, i * 256 + 256)) })),
    more: [record('ZQUANTIZ', "'NONE'"), record('BSCALE', 2)],
    long: true,
  }),
}

/** Values that programs choke on, for the value field of a card. */
const NASTY = [
  '-1',
  '0',
  '999',
  '1000',
  '2147483647',
  '-2147483648',
  '4294967296',
  '9007199254740993',
  '1E308',
  '1E999',
  'NaN',
  "''",
  "'",
  "'&'",
  'T',
  '(1,2)',
  '',
  '0.5',
  '1000000000',
  "'RICE_1'",
  "'1QB(9)'",
  "'GZIP_1'",
]

function mutate(original: Buffer): Buffer {
  const bytes = Buffer.from(original)
  for (let rounds = 1 + whole(4); rounds > 0; rounds--) {
    const kind = whole(5)
    const block = whole(bytes.length / 80) * 80
    if (kind === 0) bytes[whole(bytes.length)] ^= 1 << whole(8)
    else if (kind === 1) bytes.write(NASTY[whole(NASTY.length)].padStart(20).padEnd(70), (block % 5760) + 10, 'latin1')
    else if (kind === 2) bytes.fill(whole(256), block, Math.min(bytes.length, block + whole(200)))
    else if (kind === 3) bytes.copy(bytes, whole(bytes.length), block, block + 80 * whole(4))
    else if (bytes.length > 4) return bytes.subarray(0, whole(bytes.length))
  }
  return bytes
}

describe.each(Object.keys(FILES))('mutations of a %s file', (name) => {
  test('give FitsErrors only, within 100 ms, in memory that the file’s size bounds', () => {
    const path = join(temporaryFolder(), 'mutant.fits')
    let slowest = 0
    for (let round = 0; round < ROUNDS; round++) {
      const bytes = mutate(FILES[name])
      writeFileSync(path, bytes)
      const before = process.memoryUsage().arrayBuffers
      slowest = Math.max(
        slowest,
        elapsedMs(() => readEverything(path)),
      )
      // deflate's own bound is 1032 : 1, and a caller holds the samples and their physical values at once.
      const bound = 4e6 + bytes.length * 1040 * 4
      expect(process.memoryUsage().arrayBuffers - before, `round ${round}`).toBeLessThan(bound)
    }
    expect(slowest).toBeLessThan(100)
  }, 600_000)
})

test('any bytes after a header’s first card are read or refused', () => {
  const path = join(temporaryFolder(), 'any.fits')
  fc.assert(
    fc.property(fc.uint8Array({ size: 'max', maxLength: 9000 }), (bytes) => {
      writeFileSync(path, Buffer.concat([Buffer.from(record('SIMPLE', 'T').padEnd(80)), bytes]))
      readEverything(path)
    }),
    { numRuns: 200 },
  )
})

test('any cards are read, and every value is of a kind that a card can have', () => {
  const text = fc.string({ unit: 'binary-ascii', size: 'max', maxLength: 80 })
  const card = fc.oneof(
    text,
    fc.tuple(text, text).map(([k, v]) => `${k.slice(0, 8).padEnd(8)}= ${v}`),
    text.map((v) => `CONTINUE  '${v}`),
    text.map((v) => `HIERARCH ${v}`),
  )
  fc.assert(
    fc.property(fc.array(card, { maxLength: 60 }), (cards) => {
      const header = parseHeader(rawHeader(cards))
      for (const { keyword, value } of header.cards) {
        expect(value === null || ['string', 'number', 'bigint', 'boolean', 'object'].includes(typeof value)).toBe(true)
        if (typeof value === 'number') expect(Number.isFinite(value)).toBe(true)
        expect(header.has(keyword)).toBe(true)
      }
    }),
    { numRuns: 300 },
  )
})

test('any bytes are decoded as Rice or refused, and never read past their end', () => {
  fc.assert(
    fc.property(fc.uint8Array({ size: 'max', maxLength: 500 }), fc.constantFrom(1, 2, 4), (bytes, bytePix) => {
      const out = bytePix === 1 ? new Uint8Array(777) : bytePix === 2 ? new Int16Array(777) : new Int32Array(777)
      expect(typeof decodeRice(bytes, 32, bytePix as 1 | 2 | 4, out)).toBe('boolean')
    }),
  )
})

test('a header that is as long as headers may be is read within its time', () => {
  const path = join(temporaryFolder(), 'long.fits')
  writeFileSync(
    path,
    rawHeader([
      record('SIMPLE', 'T'),
      record('BITPIX', 8),
      record('NAXIS', 0),
      ...new Array(49_000).fill(record('EXPTIME', 300)),
    ]),
  )
  expect(elapsedMs(() => readFitsInfo(path))).toBeLessThan(100)
})

test('a thousand empty units in a row are followed within their time', () => {
  const path = join(temporaryFolder(), 'chain.fits')
  const unit = rawHeader([record('XTENSION', "'IMAGE'"), record('BITPIX', 8), record('NAXIS', 0)])
  const primary = rawHeader([record('SIMPLE', 'T'), record('BITPIX', 8), record('NAXIS', 0)])
  writeFileSync(path, Buffer.concat([primary, ...new Array(3000).fill(unit)]))
  expect(elapsedMs(() => readFitsInfo(path))).toBeLessThan(100)
})
