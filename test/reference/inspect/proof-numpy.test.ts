import { spawnSync } from 'node:child_process'
import { join } from 'node:path'
import { expect, it } from 'vitest'
import { openEngine } from '../../../main/engine/open.ts'
import { StillClock } from '../../engine/engines.ts'
import { createScene } from '../../engine/inspect/scene.ts'
import { describeWith } from '../support/shared.ts'
import { python } from '../support/tools.ts'

/** (light − dark) / (flat / mean of flat), each place of the colour filter array by its own mean, in float64, kept as float32. */
const REFERENCE = `
import json, sys, numpy as np
from astropy.io import fits
light, dark, flat, proof = (fits.getdata(p).astype(np.float64) for p in sys.argv[1:5])
expected = np.empty_like(light)
for y in (0, 1):
    for x in (0, 1):
        at = (slice(y, None, 2), slice(x, None, 2))
        expected[at] = (light[at] - dark[at]) / (flat[at] / flat[at].mean())
got = proof.astype(np.float32)
want = expected.astype(np.float32)
header = fits.getheader(sys.argv[4])
print(json.dumps({
    'unequal': int(np.count_nonzero(got != want)),
    'ulps': float(np.max(np.abs(got.astype(np.float64) - want) / np.spacing(np.abs(want)))),
    'below': int(np.count_nonzero(got < 0)),
    'bitpix': header['BITPIX'], 'unit': header['BUNIT'], 'object': header['INSTRUME'],
}))
`

describeWith({ astropy: true, programs: ['fitsverify'] }, 'a proof, as numpy and fitsverify see it', () => {
  it('is the arithmetic of numpy in float64, within one step of float32, in a file without a fault', async () => {
    const scene = createScene()
    const shelf = [
      scene.master({ file: 'dark.fits', kind: 'dark', exposureS: 30, frames: 30 }),
      scene.master({ file: 'flat.fits', kind: 'flat', exposureS: 3, filter: 'luminance', levelAdu: 28_000 }),
    ]
    const more = [
      {
        keyword: 'COMMENT',
        value:
          'Seen through thin cloud: µ and ° are no FITS characters, and this comment is longer than one card holds.',
      },
      { keyword: 'NOTE', value: `It's a string that goes on ${'and on '.repeat(20)}` },
      { keyword: 'BZERO', value: 32768 },
    ]
    const light = scene.light('light', { exposureS: 30, more })
    const engine = await openEngine({ dataDir: join(scene.folder, 'data'), clock: new StillClock(), zone: 'UTC' })
    try {
      await engine.ask('addMasters', { paths: shelf, answers: {}, copy: false })
      const out = join(scene.folder, 'proof.fits')
      const answer = await engine.ask('proof', { path: light, out })
      const seen = python<Record<string, unknown>>(REFERENCE, [light, ...shelf, out])
      expect(seen).toMatchObject({
        bitpix: -32,
        unit: 'adu',
        object: 'Heron 11C',
        below: answer.figures.after.belowZero,
      })
      // Means are summed in another order: now and then the last bit of float32 falls to the other side.
      expect(seen.ulps as number).toBeLessThanOrEqual(1)
      expect(seen.unequal as number).toBeLessThan(518 * 352 * 1e-4)
      const verified = spawnSync('fitsverify', [out], { encoding: 'utf8' })
      expect(verified.stdout).toContain('0 warning(s) and 0 error(s)')
    } finally {
      await engine.close()
    }
  })
})
