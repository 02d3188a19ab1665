import { closeSync, mkdtempSync, openSync, rmSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterAll, expect, test } from 'vitest'
import {
  encodeFits,
  openFitsWriter,
  openImage,
  readFitsInfo,
  verifyChecksums,
  type NewCard,
  type NewImage,
  type WritableSamples,
} from '../../../main/fits/index.ts'
import { describeWith, opendata, openFitsFiles } from '../support/shared.ts'
import { fitsverify, python } from '../support/tools.ts'

const folder = mkdtempSync(join(tmpdir(), 'nightshelf-reference-'))
afterAll(() => rmSync(folder, { recursive: true, force: true }))

/** Opens a file with every warning an error, checks its sums, and prints pixels, cards and table. */
const READ = `
import sys, json, warnings
warnings.simplefilter('error')
from astropy.io import fits
with fits.open(sys.argv[1], checksum=True) as units:
    header = units[0].header
    print(json.dumps(dict(
        type=units[0].data.dtype.name, pixels=[repr(float(v)) for v in units[0].data.ravel()],
        values={k: header[k] for k in header if k not in ('', 'HISTORY', 'COMMENT')},
        history=[str(h) for h in header.get('HISTORY', [])],
        sums=[[u.verify_checksum(), u.verify_datasum()] for u in units],
        table=[[str(v) for v in row] for row in units[1].data])))
`

const W = 41
const H = 19
const ramp = { length: W * H }
const IMAGES: [string, Pick<NewImage, 'bitpix' | 'unsigned'>, WritableSamples][] = [
  ['uint8', { bitpix: 8 }, Uint8Array.from(ramp, (_, i) => i)],
  ['int16', { bitpix: 16 }, Int16Array.from(ramp, (_, i) => i * 80 - 30000)],
  ['uint16', { bitpix: 16, unsigned: true }, Uint16Array.from(ramp, (_, i) => i * 84)],
  ['float32', { bitpix: -32 }, Float32Array.from(ramp, (_, i) => i / 7 - 3)],
]
const cards: NewCard[] = [
  { keyword: 'IMAGETYP', value: 'Dark Frame', comment: 'kind of frame' },
  { keyword: 'EXPTIME', value: 300, real: true, comment: '[s] exposure time' },
  { keyword: 'CCD-TEMP', value: -10.04, comment: '[degC] sensor temperature' },
  { keyword: 'GAIN', value: 120 },
  { keyword: 'TINY', value: -1.2345678901234567e-100 },
  { keyword: 'OBJECT', value: "O'Hara's cluster" },
  { keyword: 'LONGNAME', value: "a name that doesn't end, ".repeat(9).trimEnd(), comment: 'continued' },
  { keyword: 'A LONG NAME', value: 1.5 },
  { keyword: 'DATE', value: '2026-11-25T07:00:00' },
  { keyword: 'HISTORY', value: 'made of frames '.repeat(12).trimEnd() },
]
const extensions: NewImage['extensions'] = [
  {
    name: 'SOURCES',
    columns: [
      { name: 'FILE', type: 'text', values: ['dark 1.fits', 'dark 22.fits'] },
      { name: 'SHA256', type: 'text', values: ['a'.repeat(64), 'b'.repeat(64)] },
      { name: 'KEPT', type: 'int32', values: [1, -2] },
      { name: 'MEDIAN', type: 'float64', values: [512.25, 513], unit: 'adu' },
    ],
  },
]

interface Reading {
  type: string
  pixels: string[]
  values: Record<string, unknown>
  history: string[]
  sums: [number, number][]
  table: string[][]
}

describeWith({ programs: ['fitsverify'], astropy: true }, 'files that we write', () => {
  test.each(IMAGES)('%s: fitsverify has nothing to say, astropy reads the same', (type, kind, image) => {
    const path = join(folder, `${type}.fits`)
    writeFileSync(path, encodeFits({ width: W, height: H, cards, extensions, ...kind, image }))
    const { clean, report } = fitsverify(path)
    expect(clean, report).toBe(true)
    const reading = python<Reading>(READ, [path])
    expect(reading.type).toBe(type)
    expect(reading.pixels.map(Number)).toEqual([...image])
    for (const { keyword, value } of cards.filter(({ keyword }) => keyword !== 'HISTORY'))
      expect(reading.values[keyword], keyword).toBe(value)
    expect(
      reading.history
        .map((text) => text.padEnd(72))
        .join('')
        .trimEnd(),
    ).toBe('made of frames '.repeat(12).trimEnd())
    expect(reading.sums).toEqual([
      [1, 1],
      [1, 1],
    ])
    expect(reading.table).toEqual([
      ['dark 1.fits', 'a'.repeat(64), '1', '512.25'],
      ['dark 22.fits', 'b'.repeat(64), '-2', '513.0'],
    ])
  })

  test('a master of 11.7 million pixels, written in strips, holds its sums', () => {
    const [width, height, strip] = [4144, 2822, 64]
    const path = join(folder, 'master.fits')
    const fd = openSync(path, 'w')
    const writer = openFitsWriter(fd, { width, height, bitpix: -32, cards, extensions })
    const rows = new Float32Array(width * strip)
    for (let y = 0; y < height; y += strip) {
      const count = Math.min(strip, height - y)
      for (let i = 0; i < count * width; i++) rows[i] = 500 + Math.fround((y * width + i) / 3)
      writer.writeRows(rows.subarray(0, count * width))
    }
    writer.finish()
    closeSync(fd)
    const { clean, report } = fitsverify(path)
    expect(clean, report).toBe(true)
    const sums = python<[number, number][]>(
      `import sys, json
from astropy.io import fits
with fits.open(sys.argv[1], checksum=True) as units:
    print(json.dumps([[u.verify_checksum(), u.verify_datasum()] for u in units]))`,
      [path],
    )
    expect(sums).toEqual([
      [1, 1],
      [1, 1],
    ])
  })
})

describeWith({ files: ['opendata'] }, 'a file whose sums were computed elsewhere', () => {
  test('is verified, and its header written by us has the same sums', () => {
    // 4 × 3 unsigned pixels; DATASUM and CHECKSUM agreed on by CFITSIO, astropy and fitsverify.
    const path = join(opendata, 'minimal/mini_u16_checksum.fits')
    const { header } = readFitsInfo(path)
    expect([header.text('DATASUM'), header.text('CHECKSUM')]).toEqual(['3122218422', 'Po8iPl7iPl7iPl7i'])
    expect(verifyChecksums(path)).toEqual([{ data: true, whole: true }])
    using reader = openImage(path)
    const ours = encodeFits({
      width: 4,
      height: 3,
      bitpix: 16,
      unsigned: true,
      cards: [],
      image: reader.readAll() as Uint16Array,
    })
    const copy = join(folder, 'copy.fits')
    writeFileSync(copy, ours)
    expect(readFitsInfo(copy).header.text('DATASUM')).toBe('3122218422')
  })
})

describeWith({ files: ['opendata'], astropy: true }, 'checksums of the open files', () => {
  test('are judged as astropy judges them', () => {
    const files = openFitsFiles()
    const theirs = python<[number, number][][]>(
      `import sys, json
from astropy.io import fits
out = []
for path in sys.argv[1:]:
    with fits.open(path, checksum=True, disable_image_compression=True, ignore_missing_end=True) as units:
        out.append([[{'0': False, '1': True, '2': None}[str(int(v))] for v in (u._datasum_valid if hasattr(u, '_datasum_valid') and u._datasum_valid is not None else 2, u._checksum_valid if u._checksum_valid is not None else 2)] for u in units])
print(json.dumps(out))`,
      files.map((file) => join(opendata, file)),
    )
    expect(new Set(theirs.flat(2))).toEqual(new Set([true, false, null]))
    files.forEach((file, i) => {
      // A file that is cut or unpadded has no whole unit to sum.
      if (/truncated|unpadded/.test(file)) return
      const ours = verifyChecksums(join(opendata, file)).map(({ data, whole }) => [data, whole])
      expect(ours, file).toEqual(theirs[i])
    })
  })
})
