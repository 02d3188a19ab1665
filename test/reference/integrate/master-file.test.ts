import { mkdtempSync, rmSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterAll, describe, expect, it } from 'vitest'
import { writeMaster, type MasterContent } from '../../../main/integrate/master-file.ts'
import type { Settings } from '../../../main/contract/index.ts'
import { hasAstropy, hasFitsverify, PYTHON, run, titled } from './tools.ts'

const dir = mkdtempSync(join(tmpdir(), 'nightshelf-master-reference-'))
afterAll(() => rmSync(dir, { recursive: true }))

const settings: Settings = {
  camera: "Heron 11C 'north'",
  body: 'H11-0042',
  width: 40,
  height: 30,
  originX: 4,
  originY: 0,
  binning: '2x2',
  readout: 'Low noise',
  gain: 'HI',
  offset: 30,
  setTempC: -10,
  sensorTempC: -10.05,
  exposureS: 3.2,
  filter: 'Ha',
  telescope: 'Reed 80, with a name that is longer than one card of a FITS header has room for, to be continued',
  focalMm: 432,
  mechAngleDeg: 0,
  skyAngleDeg: null,
  cfa: 'RGGB',
  rowOrder: 'BOTTOM-UP',
  rig: null,
  train: null,
}

const content = (over: Partial<MasterContent>): MasterContent => ({
  kind: 'flat',
  settings,
  pixels: Float32Array.from({ length: 1200 }, (_, i) => (i === 7 ? NaN : 27000 + i / 7)),
  width: 40,
  height: 30,
  method: { name: 'madClip', low: 5, high: 5, rounds: 5, leastSigma: 4 },
  sources: Array.from({ length: 12 }, (_, k) => ({
    name: `flat_${k}.fits`,
    sha256: String(k % 10).repeat(64),
    startedAt: `2026-11-20T17:${10 + k}:00.000Z`,
    scale: 1 + k / 100,
    leftOut: k === 11 ? 'It was exposed for 2 s, below the 3 s that this class of sensor needs.' : null,
  })),
  firstAt: '2026-11-20T17:10:00.000Z',
  lastAt: '2026-11-20T17:20:00.000Z',
  subtracted: 'darkFlat',
  subtractedSha256: 'e'.repeat(64),
  electronsPerAdu: 0.35,
  pixelUm: 9.26,
  madeAt: '2026-11-21T09:00:00.000Z',
  program: 'Nightshelf 0.1.0',
  ...over,
})

const bare: Settings = Object.fromEntries(Object.keys(settings).map((key) => [key, null])) as Settings
const written = [
  writeMaster(dir, 'full.fits', content({})),
  writeMaster(
    dir,
    'bare.fits',
    content({ kind: 'dark', settings: bare, sources: [], electronsPerAdu: null, pixelUm: null }),
  ),
  writeMaster(dir, 'plain.fits', content({ kind: 'bias', method: { name: 'median' }, firstAt: null, lastAt: null })),
].map(({ path }) => path)

describe('a written master', () => {
  it.skipIf(!hasFitsverify)(titled('passes fitsverify without a warning', hasFitsverify, 'fitsverify'), () => {
    for (const path of written) expect(run('fitsverify', ['-q', path])).toMatch(/^verification OK/)
  })

  it.skipIf(!hasAstropy)(
    titled('has sums, header, pixels and sources that astropy reads as they are', hasAstropy, 'astropy'),
    () => {
      const script = `
import sys, json, warnings
warnings.simplefilter('error')
from astropy.io import fits
with fits.open(sys.argv[1], checksum=True) as hdus:
    hdus.verify('exception')
    h, table = hdus[0].header, hdus['SOURCES'].data
    print(json.dumps({k: h[k] for k in ['BITPIX', 'NCOMBINE', 'BUNIT', 'EXPTIME', 'GAIN', 'TELESCOP', 'XBINNING', 'METHOD', 'SUBTRACT', 'DATE']} |
      {'first': float(hdus[0].data[0, 1]), 'nan': bool(hdus[0].data[0, 7] != hdus[0].data[0, 7]), 'names': list(table['NAME']),
       'last': [str(table[11]['SHA256'])[:3], str(table[11]['LEFTOUT'])[:22]], 'sums': [hdus[0]._checksum_valid if hasattr(hdus[0], '_checksum_valid') else True]}))`
      const read = JSON.parse(run(PYTHON, ['-c', script, written[0]]))
      expect(read).toMatchObject({
        BITPIX: -32,
        NCOMBINE: 11,
        BUNIT: 'adu',
        EXPTIME: 3.2,
        GAIN: 'HI',
        TELESCOP: settings.telescope,
        XBINNING: 2,
        METHOD: 'madClip',
        SUBTRACT: 'darkFlat',
        DATE: '2026-11-21T09:00:00.000',
        first: Math.fround(27000 + 1 / 7),
        nan: true,
        last: ['111', 'It was exposed for 2 s'],
      })
      expect(read.names).toHaveLength(12)
    },
  )
})
