import { expect, test } from 'vitest'
import type { Layout } from '../../../main/contract/index.ts'
import { layoutOf } from '../../../main/engine/files/image.ts'
import { openImage, type Samples as Stored } from '../../../main/fits/index.ts'
import { planSamples } from '../../../renderer/viewer/samples.ts'
import { rawImage, record, fileOf } from '../../fits/files.ts'
import { decodeFile } from './fitsjs.ts'

/** Big-endian bytes of numbers, as a FITS file holds them. */
function bytes(bitpix: number, values: readonly number[]): Buffer {
  const size = Math.abs(bitpix) / 8
  const out = Buffer.alloc(values.length * size)
  values.forEach((value, i) => {
    if (bitpix === 8) out.writeUInt8(value, i)
    else if (bitpix === 16) out.writeInt16BE(value, 2 * i)
    else if (bitpix === 32) out.writeInt32BE(value, 4 * i)
    else if (bitpix === -32) out.writeFloatBE(value, 4 * i)
    else out.writeDoubleBE(value, 8 * i)
  })
  return out
}

/** The same rows by the engine's reader, in an array of the adapter's type. */
function byEngine(path: string, layout: Layout): Stored {
  using image = openImage(path)
  const out = new (planSamples(layout).type)(layout.width * layout.height) as Stored
  image.readRows(0, layout.height, out)
  return out
}

const int16 = [-32768, -32767, -1, 0, 1, 255, 256, 4660, 32766, 32767, -2, 77]
const int32 = [-2147483648, 2147483647, -1, 0, 1, 65536, 305419896, -305419896, 16777217, 2, 3, 4]
const floats = [0, -0, 1.5, -1.5, 1e-40, 3.4e38, -3.4e38, NaN, Infinity, -Infinity, 0.1, 16777216]
const cases: [string, number, readonly number[], string[]][] = [
  ['unsigned bytes', 8, [0, 1, 127, 128, 254, 255, 7, 8, 9, 10, 11, 12], []],
  ['signed bytes', 8, [0, 1, 127, 128, 254, 255, 7, 8, 9, 10, 11, 12], [record('BZERO', -128)]],
  ['bytes with a scale', 8, [0, 1, 127, 128, 254, 255, 7, 8, 9, 10, 11, 12], [record('BSCALE', 0.1)]],
  ['signed 16 bits', 16, int16, []],
  ['unsigned 16 bits, the upper half too', 16, int16, [record('BZERO', 32768), record('BSCALE', 1)]],
  ['16 bits with a scale that overflows them', 16, int16, [record('BSCALE', 3), record('BZERO', 7)]],
  ['unsigned 16 bits with a BLANK', 16, int16, [record('BZERO', 32768), record('BLANK', -32768)]],
  ['signed 32 bits', 32, int32, []],
  ['unsigned 32 bits', 32, int32, [record('BZERO', '2147483648')]],
  ['32 bits with a broken scale', 32, int32, [record('BSCALE', 0.25), record('BLANK', 1)]],
  ['floats of 32 bits, −0 and NaN too', -32, floats, []],
  ['floats of 32 bits with a scale', -32, floats, [record('BSCALE', 2), record('BZERO', 0.5)]],
  ['floats of 64 bits, −0 and NaN too', -64, [...floats.slice(0, 10), 1e300, Math.PI], []],
  ['floats of 64 bits with a zero', -64, floats, [record('BZERO', -1.25)]],
]

test.each(cases)('%s come out as the engine reads them, bit for bit', (_, bitpix, values, more) => {
  const file = rawImage(bitpix, [4, 3], bytes(bitpix, values), more)
  const path = fileOf(file)
  using image = openImage(path)
  const layout = layoutOf(image)
  for (const bandRows of [3, 2, 1]) {
    const ours = decodeFile(file, layout, bandRows)
    const theirs = byEngine(path, layout)
    expect(ours.constructor).toBe(theirs.constructor)
    expect(ours.length).toBe(12)
    // `Object.is` tells −0 from 0, and holds NaN for NaN.
    for (let i = 0; i < ours.length; i++) expect(ours[i]).toBe(theirs[i])
  }
})

test('the first plane of a cube, and an image behind an empty primary unit, are found by the engine’s layout', () => {
  const cube = rawImage(16, [2, 2, 3], bytes(16, [1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11, 12]))
  using image = openImage(fileOf(cube))
  expect([...decodeFile(cube, layoutOf(image))]).toEqual([1, 2, 3, 4])

  const primary = rawImage(8, [], new Uint8Array(0), [record('EXTEND', 'T')])
  const extension = rawImage(16, [2, 2], bytes(16, [-1, 2, -3, 4]), [record('PCOUNT', 0), record('GCOUNT', 1)])
  extension.write("XTENSION= 'IMAGE   '".padEnd(80), 0, 'latin1')
  const behind = Buffer.concat([primary, extension])
  using second = openImage(fileOf(behind))
  expect([...decodeFile(behind, layoutOf(second))]).toEqual([-1, 2, -3, 4])
})

test('half a million unsigned pixels equal the engine’s', () => {
  const values = Array.from({ length: 500_000 }, (_, i) => ((i * 40503) % 65536) - 32768)
  const file = rawImage(16, [1000, 500], bytes(16, values), [record('BZERO', 32768)])
  const path = fileOf(file)
  using image = openImage(path)
  const layout = layoutOf(image)
  expect(Buffer.from(decodeFile(file, layout, 64).buffer).equals(Buffer.from(byEngine(path, layout).buffer))).toBe(true)
})
