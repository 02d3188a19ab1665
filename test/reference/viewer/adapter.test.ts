import { createHash } from 'node:crypto'
import { readFileSync } from 'node:fs'
import { basename, join } from 'node:path'
import { expect, test } from 'vitest'
import { layoutOf } from '../../../main/engine/files/image.ts'
import { FitsError, openImage, type ImageReader } from '../../../main/fits/index.ts'
import { decodeFile } from '../../renderer/viewer/fitsjs.ts'
import { describeWith, opendata, openFitsFiles } from '../support/shared.ts'
import { python } from '../support/tools.ts'

/**
 * The window's decoder (fitsjs behind our adapter) against astropy 5.2 on the open data sets: SHA-256 of the first plane's physical
 * values as float64, BZERO + BSCALE × stored, BLANK as NaN; the layout is what the engine tells the window.
 */
const REFERENCE = `
import sys, json, hashlib
import numpy as np
from astropy.io import fits
out = []
for path in sys.argv[1:]:
    with fits.open(path, do_not_scale_image_data=True, ignore_missing_end=True) as units:
        found = next(u for u in units if u.is_image and u.header['NAXIS'] > 0 and u.data is not None)
        stored = np.asarray(found.data)
        stored = stored.reshape((-1,) + stored.shape[-2:])[0] if stored.ndim > 1 else stored
        header = found.header
        physical = float(header.get('BZERO', 0)) + float(header.get('BSCALE', 1)) * stored.astype('f8')
        if stored.dtype.kind == 'f' and stored.dtype.itemsize == 4:
            physical = physical.astype('f4').astype('f8')
        if 'BLANK' in header and stored.dtype.kind != 'f':
            physical[stored == header['BLANK']] = np.nan
        physical[np.isnan(physical)] = np.nan
        out.append(hashlib.sha256(physical.astype('<f8').tobytes()).hexdigest())
print(json.dumps(out))
`

/** Plain images that the window decodes by itself; whole numbers with a broken scale are float32 there, which is no exact value. */
function decodedByWindow(image: ImageReader): boolean {
  const { scaling, bitpix, info } = image
  if (info.imageCompression !== null || bitpix === 64) return false
  return bitpix < 0 || bitpix === 32 || scaling.exact || Number.isInteger(scaling.bscale * 1024)
}

function hashOf(path: string): string | null {
  try {
    using image = openImage(path)
    if (!decodedByWindow(image)) return null
    const values = Float64Array.from(decodeFile(readFileSync(path), layoutOf(image), 7), (v) =>
      Number.isNaN(v) ? NaN : v,
    )
    return createHash('sha256').update(Buffer.from(values.buffer)).digest('hex')
  } catch (error) {
    if (error instanceof FitsError) return null
    throw error
  }
}

describeWith({ files: ['opendata'], programs: [], astropy: true }, 'what the window decodes', () => {
  const ours = openFitsFiles().flatMap((file) => {
    const path = join(opendata, file)
    const hash = hashOf(path)
    return hash ? [{ path, hash }] : []
  })

  test('is what astropy reads, bit for bit, for every plain image of the open data sets', () => {
    expect(ours.length).toBeGreaterThan(10)
    const theirs = python<string[]>(
      REFERENCE,
      ours.map(({ path }) => path),
    )
    expect(ours.map(({ path, hash }) => [basename(path), hash])).toEqual(
      ours.map(({ path }, i) => [basename(path), theirs[i]]),
    )
    console.log(`${ours.length} plain images of the open data sets were decoded as the window does.`)
  })
})
