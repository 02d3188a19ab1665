import { gzipSync } from 'node:zlib'
import { describe, expect, test } from 'vitest'
import { openImage } from '../../main/fits/image.ts'
import { fileOf, rawTileFile, record, type RawTiles } from './files.ts'

/** 16-bit pixels of a tile: the row-major numbers of the image at its place. */
function tileBytes(width: number, x0: number, y0: number, columns: number, rows: number, size = 2): Buffer {
  const bytes = Buffer.alloc(columns * rows * size)
  for (let y = 0; y < rows; y++)
    for (let x = 0; x < columns; x++) bytes.writeIntBE((y0 + y) * width + x0 + x - 20, (y * columns + x) * size, size)
  return bytes
}

/** Most significant bytes first: GZIP_2's order (FITS standard 4.0, 10.4.2). */
function shuffled(bytes: Buffer, size: number): Buffer {
  const pixels = bytes.length / size
  return Buffer.from(bytes.map((_, i) => bytes[(i % pixels) * size + Math.floor(i / pixels)]))
}

const expected = (pixels: number) => Array.from({ length: pixels }, (_, i) => i - 20)

function readAll(spec: RawTiles): number[] {
  using reader = openImage(fileOf(rawTileFile(spec)))
  const whole = [...(reader.readAll() as Int16Array)]
  // Strips of every height give the same pixels, whatever the tiles' heights are.
  for (let height = 1; height <= reader.rows; height++) {
    const out = new Int16Array(height * reader.width)
    const strips: number[] = []
    for (let y = 0; y < reader.rows; y += height) {
      const rows = Math.min(height, reader.rows - y)
      reader.readRows(y, rows, out)
      strips.push(...out.subarray(0, rows * reader.width))
    }
    expect(strips).toEqual(whole)
  }
  return whole
}

/** The refusal of a file that must not be read. */
function refusal(spec: RawTiles | Buffer, read = true): { code: string; message: string } {
  try {
    using reader = openImage(fileOf(Buffer.isBuffer(spec) ? spec : rawTileFile(spec)))
    if (read) reader.readAll()
  } catch (error) {
    return error as { code: string; message: string }
  }
  throw new Error('It was read.')
}

describe('tiles of any shape', () => {
  test.each<[string, number[], number[] | undefined, [number, number, number, number][]]>([
    [
      'row by row, which is the default',
      [7, 3],
      undefined,
      [
        [0, 0, 7, 1],
        [0, 1, 7, 1],
        [0, 2, 7, 1],
      ],
    ],
    ['larger than the image', [7, 3], [100, 100], [[0, 0, 7, 3]]],
    [
      'with smaller ones at the edges',
      [7, 3],
      [4, 2],
      [
        [0, 0, 4, 2],
        [4, 0, 3, 2],
        [0, 2, 4, 1],
        [4, 2, 3, 1],
      ],
    ],
  ])('%s', (_, axes, tile, places) => {
    for (const method of ['GZIP_1', 'GZIP_2']) {
      const tiles = places.map(([x, y, columns, rows]) => {
        const bytes = tileBytes(axes[0], x, y, columns, rows)
        return { COMPRESSED_DATA: gzipSync(method === 'GZIP_2' ? shuffled(bytes, 2) : bytes) }
      })
      expect(readAll({ bitpix: 16, axes, tile, method, tiles })).toEqual(expected(21))
      expect(readAll({ bitpix: 16, axes, tile, method, tiles, long: true })).toEqual(expected(21))
    }
  })

  test('in three axes, two planes deep', () => {
    // 4 × 2 × 3, tiles of 4 × 1 × 2: the second layer of tiles is one plane deep.
    const tiles = [
      [0, 4, 2],
      [2 - 1, 4, 2],
      [4, 4, 1],
      [5, 4, 1],
    ].map(([row, columns, planes]) => {
      const parts = Array.from({ length: planes }, (_, z) => tileBytes(4, 0, row + 2 * z, columns, 1))
      return { COMPRESSED_DATA: gzipSync(Buffer.concat(parts)) }
    })
    expect(readAll({ bitpix: 16, axes: [4, 2, 3], tile: [4, 1, 2], method: 'GZIP_1', tiles })).toEqual(expected(24))
  })
})

describe('what a tile may be instead', () => {
  const row = (y: number) => tileBytes(7, 0, y, 7, 1)

  test('gzipped or plain, where the named method gained nothing', () => {
    const tiles = [
      { GZIP_COMPRESSED_DATA: gzipSync(row(0)) },
      { UNCOMPRESSED_DATA: row(1) },
      { COMPRESSED_DATA: Buffer.from('000100', 'hex') },
    ]
    const pixels = readAll({
      bitpix: 16,
      axes: [7, 3],
      method: 'RICE_1',
      tiles,
      element: { letter: 'I', width: 2 },
      more: [record('ZNAME1', "'BYTEPIX'"), record('ZVAL1', 2)],
    })
    expect(pixels.slice(0, 14)).toEqual(expected(14))
    expect(pixels.slice(14)).toEqual(new Array(7).fill(1))
  })

  test('NOCOMPRESS, in either column', () => {
    const tiles = [{ COMPRESSED_DATA: row(0) }, { UNCOMPRESSED_DATA: row(1) }]
    expect(
      readAll({ bitpix: 16, axes: [7, 2], method: 'NOCOMPRESS', tiles, element: { letter: 'I', width: 2 } }),
    ).toEqual(expected(14))
  })

  test('wider than the image’s pixels, as long as every value fits', () => {
    const wide = [{ COMPRESSED_DATA: gzipSync(tileBytes(7, 0, 0, 7, 1, 4)) }]
    expect(readAll({ bitpix: 16, axes: [7, 1], method: 'GZIP_1', tiles: wide })).toEqual(expected(7))
    const tooLarge = Buffer.alloc(28)
    tooLarge.writeInt32BE(70_000, 4)
    expect(
      refusal({ bitpix: 16, axes: [7, 1], method: 'GZIP_1', tiles: [{ COMPRESSED_DATA: gzipSync(tooLarge) }] }).code,
    ).toBe('tile-bad')
  })

  test('Rice of four bytes a pixel for a 16-bit image, the default where BYTEPIX is not given', () => {
    const tiles = [{ COMPRESSED_DATA: Buffer.from('fffffffb00', 'hex') }]
    expect(readAll({ bitpix: 16, axes: [7, 1], method: 'RICE_ONE', tiles })).toEqual(new Array(7).fill(-5))
  })

  test('lossless floats, bit for bit', () => {
    const floats = Buffer.alloc(12)
    ;[0.1, -1e-40, NaN].forEach((value, i) => floats.writeFloatBE(value, 4 * i))
    for (const method of ['GZIP_1', 'GZIP_2']) {
      const tiles = [{ COMPRESSED_DATA: gzipSync(method === 'GZIP_2' ? shuffled(floats, 4) : floats) }]
      using reader = openImage(
        fileOf(rawTileFile({ bitpix: -32, axes: [3, 1], method, tiles, more: [record('ZQUANTIZ', "'NONE'")] })),
      )
      const stored = new Uint8Array(12)
      reader.readStoredRows(0, 1, stored)
      expect(Buffer.from(stored).equals(floats)).toBe(true)
    }
  })

  test('BLANK and unsigned hold behind the compression as before it', () => {
    const tiles = [{ COMPRESSED_DATA: gzipSync(Buffer.from('80008001', 'hex')) }]
    const more = [record('BZERO', 32768), record('ZBLANK', -32768)]
    using reader = openImage(fileOf(rawTileFile({ bitpix: 16, axes: [2, 1], method: 'GZIP_1', tiles, more })))
    const out = new Float32Array(2)
    reader.readRows(0, 1, out)
    expect([...out]).toEqual([NaN, 1])
  })
})

describe('what is not read is named', () => {
  const tiles = [{ COMPRESSED_DATA: new Uint8Array(40) }]
  const quantised = (method: string, how: string) => ({
    bitpix: -32,
    axes: [4, 1],
    method,
    tiles,
    more: [record('ZQUANTIZ', `'${how}'`)],
  })
  test.each<[RawTiles, RegExp]>([
    [{ bitpix: 16, axes: [4, 1], method: 'PLIO_1', tiles }, /PLIO_1/],
    [{ bitpix: 16, axes: [4, 1], method: 'HCOMPRESS_1', tiles }, /HCOMPRESS_1/],
    [{ bitpix: 16, axes: [4, 1], method: 'SECRET', tiles }, /SECRET/],
    [quantised('RICE_1', 'SUBTRACTIVE_DITHER_1'), /RICE_1, floats quantised by SUBTRACTIVE_DITHER_1/],
    [quantised('GZIP_2', 'SUBTRACTIVE_DITHER_2'), /GZIP_2, floats quantised by SUBTRACTIVE_DITHER_2/],
    [quantised('GZIP_1', 'NO_DITHER'), /GZIP_1, floats quantised by NO_DITHER/],
    [{ bitpix: -32, axes: [4, 1], method: 'RICE_1', tiles }, /RICE_1, quantised floats/],
    [
      {
        bitpix: 16,
        axes: [4, 1],
        method: 'RICE_1',
        tiles,
        more: [record('ZNAME1', "'BLOCKSIZE'"), record('ZVAL1', 1e9)],
      },
      /RICE_1 in blocks of 1000000000/,
    ],
    [
      { bitpix: 16, axes: [4, 1], method: 'RICE_1', tiles, more: [record('ZNAME1', "'BYTEPIX'"), record('ZVAL1', 8)] },
      /RICE_1 of 8 bytes a pixel/,
    ],
  ])('%#', (spec, name) => {
    const { code, message } = refusal(spec, false)
    expect(code).toBe('compression')
    expect(message).toMatch(name)
    expect(message).toMatch(/^[^.]+: [^.]+\.$/)
  })
})

describe('hostile tiles', () => {
  const gzip = (bytes: Uint8Array): RawTiles => ({
    bitpix: 16,
    axes: [7, 1],
    method: 'GZIP_1',
    tiles: [{ COMPRESSED_DATA: bytes }],
  })

  test('a descriptor beyond the heap, or a negative one', () => {
    const bytes = rawTileFile(gzip(gzipSync(tileBytes(7, 0, 0, 7, 1))))
    // The primary header and the table's are one block each.
    const table = 2 * 2880
    for (const [at, value] of [
      [0, 1_000_000],
      [4, 1_000_000],
      [0, -1],
      [4, -5],
      [0, 0],
    ]) {
      const bad = Buffer.from(bytes)
      bad.writeInt32BE(value, table + at)
      expect(refusal(bad).code).toBe('tile-bad')
    }
  })

  test('a stream that unpacks to more than its tile stops there', () => {
    const bomb = gzipSync(Buffer.alloc(50_000_000))
    const before = process.memoryUsage().arrayBuffers
    expect(refusal(gzip(bomb)).code).toBe('tile-bad')
    expect(process.memoryUsage().arrayBuffers - before).toBeLessThan(2e6)
  })

  test('an image larger than its compressed bytes can hold is refused when it is opened', () => {
    for (const method of ['GZIP_1', 'RICE_1']) {
      const spec: RawTiles = {
        bitpix: 16,
        axes: [100_000, 100_000],
        tile: [100_000, 100_000],
        method,
        tiles: [{ COMPRESSED_DATA: new Uint8Array(100) }],
      }
      expect(refusal(spec, false).code).toBe('size-impossible')
    }
  })

  test('a tile larger than its own bytes can hold is refused before memory is taken for it', () => {
    // The second tile's 3 MB would fit the file as a whole, not its own four bytes.
    const tiles = [{ COMPRESSED_DATA: new Uint8Array(10_000) }, { COMPRESSED_DATA: new Uint8Array(4) }]
    const before = process.memoryUsage().arrayBuffers
    using reader = openImage(fileOf(rawTileFile({ bitpix: 16, axes: [1_500_000, 2], method: 'GZIP_1', tiles })))
    expect(() => reader.readRows(1, 1, new Int16Array(0))).toThrow(RangeError)
    expect(() => reader.readStoredRows(1, 1, new Uint8Array(3_000_000))).toThrow(
      expect.objectContaining({ code: 'tile-bad' }),
    )
    expect(process.memoryUsage().arrayBuffers - before).toBeLessThan(4e6)
  })

  test('fewer rows than tiles, no stream at all, a stream too short', () => {
    const tile = gzipSync(tileBytes(7, 0, 0, 7, 1))
    expect(refusal({ ...gzip(tile), axes: [7, 2] }, false).code).toBe('header-bad')
    expect(refusal(gzip(Buffer.from('no gzip here'))).code).toBe('tile-bad')
    expect(refusal(gzip(gzipSync(new Uint8Array(12)))).code).toBe('tile-bad')
    expect(refusal(gzip(tile.subarray(0, tile.length - 10))).code).toBe('tile-bad')
  })

  test.each([
    record('ZTILE1', 0),
    record('ZTILE1', -7),
    record('THEAP', 1),
    record('THEAP', 1e12),
    record('TFORM1', "'ZZ'"),
  ])('a table that contradicts itself: %s', (card) => {
    const bytes = rawTileFile({ ...gzip(gzipSync(tileBytes(7, 0, 0, 7, 1))), more: [] })
    if (card.startsWith('TFORM1')) {
      bytes.write(card.padEnd(80), bytes.indexOf('TFORM1'), 'latin1')
    } else {
      // The first of two equal keywords counts, so the hostile one goes before the table's own.
      const at = bytes.indexOf('ZIMAGE')
      bytes.copyWithin(at + 80, at, 5760 - 80)
      bytes.write(card.padEnd(80), at, 'latin1')
    }
    expect(refusal(bytes, false).code).toBe('header-bad')
  })
})
