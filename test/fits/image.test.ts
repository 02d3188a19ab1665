import { truncateSync } from 'node:fs'
import { describe, expect, test } from 'vitest'
import { FitsError } from '../../main/fits/error.ts'
import { openImage, type ImageReader } from '../../main/fits/image.ts'
import type { Samples } from '../../main/fits/samples.ts'
import { fileOf, rawImage, record } from './files.ts'

function opened(bytes: Uint8Array): ImageReader {
  return openImage(fileOf(bytes))
}

/** All samples and all physical values of a small file. */
function read(bytes: Uint8Array): { samples: unknown[]; physical: number[]; reader: ImageReader } {
  using reader = opened(bytes)
  const samples = reader.createRows(reader.rows)
  reader.readRows(0, reader.rows, samples)
  const physical = new Float64Array(samples.length)
  reader.readRows(0, reader.rows, physical)
  expect(reader.readAll()).toEqual(samples)
  return { samples: [...(samples as Iterable<unknown>)], physical: [...physical], reader }
}

function bigEndian(
  write: (view: DataView, at: number, value: never) => void,
  size: number,
  values: unknown[],
): Uint8Array {
  const view = new DataView(new ArrayBuffer(values.length * size))
  values.forEach((value, i) => write(view, i * size, value as never))
  return new Uint8Array(view.buffer)
}
const int16 = (...values: number[]) => bigEndian((view, at, value) => view.setInt16(at, value), 2, values)
const int32 = (...values: number[]) => bigEndian((view, at, value) => view.setInt32(at, value), 4, values)
const int64 = (...values: bigint[]) => bigEndian((view, at, value) => view.setBigInt64(at, value), 8, values)
const float32 = (...values: number[]) => bigEndian((view, at, value) => view.setFloat32(at, value), 4, values)
const float64 = (...values: number[]) => bigEndian((view, at, value) => view.setFloat64(at, value), 8, values)

describe('integers of the other signedness (FITS standard 4.0, Table 11)', () => {
  test('16 bit: stored -32768, 0, 32767 are 0, 32768, 65535', () => {
    // The three values are those of the CFITSIO user guide 4.2, chapter 4.
    const { samples, physical, reader } = read(
      rawImage(16, [3, 1], int16(-32768, 0, 32767), [record('BZERO', 32768), record('BSCALE', 1)]),
    )
    expect(samples).toEqual([0, 32768, 65535])
    expect(physical).toEqual([0, 32768, 65535])
    expect(reader).toMatchObject({ sampleType: 'uint16', unsigned16: true })
  })

  test('8 bit with BZERO -128 is signed', () => {
    const { samples, reader } = read(rawImage(8, [3, 1], new Uint8Array([0, 128, 255]), [record('BZERO', -128)]))
    expect(samples).toEqual([-128, 0, 127])
    expect(reader.sampleType).toBe('int8')
  })

  test('32 bit', () => {
    const { samples, physical } = read(
      rawImage(32, [3, 1], int32(-(2 ** 31), 0, 2 ** 31 - 1), [record('BZERO', '2147483648.0')]),
    )
    expect(samples).toEqual([0, 2 ** 31, 2 ** 32 - 1])
    expect(physical).toEqual(samples)
  })

  test('64 bit, exact beyond what a double holds', () => {
    const zero = record('BZERO', '9223372036854775808')
    const { samples, physical } = read(rawImage(64, [2, 1], int64(-(2n ** 63n), 2n ** 63n - 1n), [zero]))
    expect(samples).toEqual([0n, 2n ** 64n - 1n])
    expect(physical).toEqual([0, 2 ** 64])
  })
})

test.each<[string, Uint8Array, unknown[]]>([
  ['8', rawImage(8, [2, 1], new Uint8Array([0, 255])), [0, 255]],
  ['16', rawImage(16, [2, 1], int16(-32768, 32767)), [-32768, 32767]],
  ['32', rawImage(32, [2, 1], int32(-(2 ** 31), 7)), [-(2 ** 31), 7]],
  ['64', rawImage(64, [2, 1], int64(-(2n ** 63n), 9007199254740993n)), [-(2n ** 63n), 9007199254740993n]],
  ['-32', rawImage(-32, [2, 1], float32(0.5, NaN)), [0.5, NaN]],
  ['-64', rawImage(-64, [2, 1], float64(1e300, -0.1)), [1e300, -0.1]],
])('plain BITPIX %s comes out as stored', (_, bytes, expected) => {
  expect(read(bytes).samples).toEqual(expected)
})

describe('physical values', () => {
  test('are BZERO + BSCALE × stored (Eq. 3 of the standard), and the samples stay as stored', () => {
    // The numbers of a 2 × 2 file that astropy 5.2.1 and CFITSIO 4.2.0 read alike.
    const { samples, physical, reader } = read(
      rawImage(16, [2, 2], int16(-200, 0, 1, 32767), [record('BSCALE', 0.5), record('BZERO', 100)]),
    )
    expect(physical).toEqual([0, 100, 100.5, 16483.5])
    expect(samples).toEqual([-200, 0, 1, 32767])
    expect(reader).toMatchObject({ sampleType: 'int16', unsigned16: false, scaling: { exact: false } })
  })

  test('BLANK holds the stored value: -32768 for an undefined 0 of an unsigned image', () => {
    // The standard's own example, BLANK keyword.
    const { physical, reader } = read(
      rawImage(16, [3, 1], int16(-32768, -32767, 5), [record('BZERO', 32768), record('BLANK', -32768)]),
    )
    expect(physical).toEqual([NaN, 1, 32773])
    expect(reader.blankSample).toBe(0)
  })

  test('BLANK of 64 bits is exact', () => {
    const { physical } = read(
      rawImage(64, [2, 1], int64(-(2n ** 63n), -(2n ** 63n) + 1n), [record('BLANK', '-9223372036854775808')]),
    )
    expect(physical).toEqual([NaN, -(2 ** 63)])
  })

  test('BLANK means nothing in a float image, NaN does', () => {
    expect(read(rawImage(-32, [3, 1], float32(1, NaN, -3), [record('BLANK', 1)])).physical).toEqual([1, NaN, -3])
  })

  test('a scaled float image is read scaled, in both ways', () => {
    const { samples, physical } = read(rawImage(-32, [2, 1], float32(1, 2), [record('BSCALE', 10), record('BZERO', 1)]))
    expect(samples).toEqual([11, 21])
    expect(physical).toEqual([11, 21])
  })
})

describe('strips of rows', () => {
  const cube = rawImage(16, [3, 2, 2], int16(...Array.from({ length: 12 }, (_, i) => i)))

  test('run through the planes of a cube', () => {
    using reader = opened(cube)
    expect([reader.width, reader.height, reader.planes, reader.rows]).toEqual([3, 2, 2, 4])
    const out = new Int16Array(8).fill(-1)
    reader.readRows(1, 2, out)
    expect([...out]).toEqual([3, 4, 5, 6, 7, 8, -1, -1])
  })

  test('go into shared memory, as samples and as stored bytes', () => {
    using reader = opened(rawImage(16, [3, 1], int16(-32768, 0, 256), [record('BZERO', 32768)]))
    const samples = new Uint16Array(new SharedArrayBuffer(6))
    reader.readRows(0, 1, samples)
    expect([...samples]).toEqual([0, 32768, 33024])
    const stored = new Uint8Array(new SharedArrayBuffer(6))
    reader.readStoredRows(0, 1, stored)
    expect([...stored]).toEqual([128, 0, 0, 0, 1, 0])
  })

  test('an odd offset in the caller’s memory changes nothing', () => {
    using reader = opened(rawImage(16, [3, 1], int16(-32768, 0, 256), [record('BZERO', 32768)]))
    const out = new Uint16Array(5).subarray(1, 4)
    reader.readRows(0, 1, out)
    expect([...out]).toEqual([0, 32768, 33024])
  })

  test('a caller’s slip is told, and is no FitsError', () => {
    using reader = opened(cube)
    const out = new Int16Array(12)
    for (const [y0, rows] of [
      [-1, 1],
      [0, 5],
      [4, 1],
      [0.5, 1],
    ])
      expect(() => reader.readRows(y0, rows, out)).toThrow(RangeError)
    expect(() => reader.readRows(0, 4, new Int16Array(11))).toThrow(RangeError)
    expect(() => reader.readRows(0, 1, new Uint16Array(3) as Samples)).toThrow(TypeError)
  })
})

test('a file that is cut is refused before memory is taken, and one that shrinks while it is read as well', () => {
  const bytes = rawImage(16, [100, 100], new Uint8Array(20_000))
  const code = (read: () => unknown) => {
    try {
      read()
    } catch (error) {
      return (error as FitsError).code
    }
  }
  expect(code(() => opened(bytes.subarray(0, 5000)))).toBe('data-cut')
  const path = fileOf(bytes)
  using reader = openImage(path)
  truncateSync(path, 5000)
  expect(code(() => reader.readAll())).toBe('data-cut')
})

test('a header without an image is no image', () => {
  expect(() => opened(rawImage(8, [], new Uint8Array(0)))).toThrow(
    expect.objectContaining({ name: 'FitsError', code: 'no-image' }),
  )
})
