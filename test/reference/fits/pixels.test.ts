import { createHash } from 'node:crypto'
import { mkdtempSync, readFileSync, rmSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { basename, join } from 'node:path'
import { afterAll, expect, test } from 'vitest'
import { FitsError, openImage, readFitsInfo } from '../../../main/fits/index.ts'
import { bytesOf } from '../../../main/fits/samples.ts'
import { describeWith, opendata, openFitsFiles } from '../support/shared.ts'
import { funpack, python } from '../support/tools.ts'

/**
 * For each file: SHA-256 of the stored big-endian pixels of its first image, and of the physical values as
 * little-endian float64: BZERO + BSCALE × stored, BLANK as NaN (numpy; astropy would round some to float32).
 */
const REFERENCE = `
import sys, json, hashlib
import numpy as np
from astropy.io import fits
out = []
for path in sys.argv[1:]:
    with fits.open(path, do_not_scale_image_data=True, ignore_missing_end=True) as units:
        found = None
        for unit in units:
            if unit.is_image and unit.header['NAXIS'] > 0 and unit.data is not None:
                found = unit
                break
        if found is None:
            out.append(None)
            continue
        stored = np.asarray(found.data)
        header = found.header
        physical = float(header.get('BZERO', 0)) + float(header.get('BSCALE', 1)) * stored.astype('f8')
        if 'BLANK' in header and stored.dtype.kind != 'f':
            physical[stored == header['BLANK']] = np.nan
        physical[np.isnan(physical)] = np.nan
        sha = lambda a: hashlib.sha256(a.tobytes()).hexdigest()
        out.append(dict(shape=stored.shape[::-1], stored=sha(stored.astype(stored.dtype.newbyteorder('>'))),
                        physical=sha(physical.astype('<f8'))))
print(json.dumps(out))
`

interface Reference {
  shape: number[]
  stored: string
  physical: string
}

const folder = mkdtempSync(join(tmpdir(), 'nightshelf-reference-'))
afterAll(() => rmSync(folder, { recursive: true, force: true }))

/** Files that are not read on purpose, and the code of their refusal. */
const REFUSED: Record<string, string> = {
  'astropy/history_header.fits': 'no-image',
  'astropy/verify.fits': 'no-image',
  'minimal/header_8_blocks.fits': 'no-image',
  'minimal/header_cases.fits': 'no-image',
  'minimal/header_end_first_of_block2.fits': 'no-image',
  'minimal/header_exact_36.fits': 'no-image',
  'minimal/truncated_data.fits': 'data-cut',
  'fits-tile-registry-m13/m13_hcomp.fits': 'compression',
  'fits-tile-registry-m13/m13_plio.fits': 'compression',
  'fits-tile-registry-m13/m13real_rice.fits': 'compression',
  'fpack-matrix/u16_150x90_h.fits.fz': 'compression',
  'fpack-matrix/u8_150x90_p.fits.fz': 'compression',
}
const refusalOf = (file: string): string | undefined =>
  REFUSED[file] ?? (/_(q4|q16|absq|r_absq)[^.]*\.fits\.fz$/.test(file) ? 'compression' : undefined)

const sha256 = (bytes: Uint8Array): string => createHash('sha256').update(bytes).digest('hex')

/** NaN has many bit patterns; numpy's canonical one stands for all in the physical values. */
function canonical(values: Float64Array): Buffer {
  for (let i = 0; i < values.length; i++) if (Number.isNaN(values[i])) values[i] = NaN
  return bytesOf(values)
}

describeWith({ files: ['opendata'], programs: ['funpack'], astropy: true }, 'pixels, bit for bit', () => {
  const files = openFitsFiles()
  const read = files.filter((file) => refusalOf(file) === undefined)

  /** CFITSIO's funpack unpacks first; astropy reads what it will not (old conventions), and all plain files. */
  const sources = read.map((file) => {
    const path = join(opendata, file)
    const plain = join(folder, `${basename(file)}.unpacked`)
    return readFitsInfo(path).imageCompression !== null && funpack(path, plain) ? plain : path
  })
  const references = python<(Reference | null)[]>(REFERENCE, sources)

  test.each(read.map((file, i) => [file, references[i]] as const))('%s', (file, reference) => {
    using reader = openImage(join(opendata, file))
    expect(reader.info.image!.axes).toEqual(reference!.shape)
    const stored = Buffer.alloc(reader.rows * reader.bytesPerRow)
    const physical = new Float64Array(reader.rows * reader.width)
    // Strips of 7 rows end in the middle of tiles.
    for (let y = 0; y < reader.rows; y += 7) {
      const rows = Math.min(7, reader.rows - y)
      reader.readStoredRows(y, rows, stored.subarray(y * reader.bytesPerRow))
      reader.readRows(y, rows, physical.subarray(y * reader.width, (y + rows) * reader.width))
    }
    expect(sha256(stored)).toBe(reference!.stored)
    expect(sha256(canonical(physical))).toBe(reference!.physical)
  })

  test.each(files.filter((file) => refusalOf(file) !== undefined))('%s is refused', (file) => {
    let caught: unknown
    try {
      openImage(join(opendata, file)).close()
    } catch (error) {
      caught = error
    }
    expect(caught).toBeInstanceOf(FitsError)
    expect((caught as FitsError).code).toBe(refusalOf(file))
  })
})

function figures(file: string) {
  using reader = openImage(join(opendata, file))
  let [sum, squares, min, max] = [0, 0, Infinity, -Infinity]
  for (const value of reader.readAll() as Uint16Array) {
    sum += value
    squares += value * value
    min = Math.min(min, value)
    max = Math.max(max, value)
  }
  return { width: reader.width, height: reader.height, sum, squares, min, max }
}

describeWith({ files: ['opendata'] }, 'pixels against published figures', () => {
  test.each(['m13.fits', 'm13_gzip.fits', 'm13_rice.fits'])('M13 of the tile-compression sample set: %s', (file) => {
    expect(figures(`fits-tile-registry-m13/${file}`)).toMatchObject({
      width: 300,
      height: 300,
      min: 109,
      max: 3618,
      sum: 13293397,
    })
  })

  test('two real camera frames have the figures that their list states', () => {
    const saao = figures('real-ccd-frames/a8280271.fits')
    expect(saao).toMatchObject({ width: 536, height: 520, min: 187, max: 1715 })
    expect(saao.sum / (536 * 520)).toBeCloseTo(296.000312, 6)
    const cooled = figures('real-ccd-frames/cooled_ccd_light_crop.fit')
    expect(cooled).toMatchObject({ min: 3132, max: 5045 })
    expect(cooled.sum / (cooled.width * cooled.height)).toBeCloseTo(3209.7454, 4)
  })

  test('the camera frames of the EMVA 1288 reference set have the sums of their manifest', () => {
    const [head, ...rows] = readFileSync(join(opendata, 'emva1288/manifest.csv'), 'utf8').trim().split('\n')
    const names = head.split(',')
    const cell = (row: string, name: string) => row.split(',')[names.indexOf(name)]
    for (const row of rows) {
      const file = basename(cell(row, 'file'))
      expect(figures(`emva1288/${file}`), file).toMatchObject({
        sum: Number(cell(row, 'sum')),
        squares: Number(cell(row, 'sumsq')),
        min: Number(cell(row, 'min')),
        max: Number(cell(row, 'max')),
      })
    }
    expect(rows.length).toBeGreaterThanOrEqual(40)
  })
})
