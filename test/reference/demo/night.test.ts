import { spawnSync } from 'node:child_process'
import { mkdtempSync, readdirSync, rmSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterAll, beforeAll, describe, expect, it } from 'vitest'
import type { FrameWritten } from '../../../main/demo/write-night.ts'
import { writeNight } from '../../../main/demo/write-night.ts'
import { darkE, electronsPerAdu, heron11c, pedestalAdu, readNoiseE } from '../../../main/demo/sensor.ts'
import { askPython, hasAstropy, hasTool } from './tools.ts'

const verifier = hasTool('fitsverify', '-h')
const astropy = hasAstropy()
const title = (text: string, there: boolean, tool: string) =>
  there ? text : `not run (${tool} is not installed): ${text}`

const dir = mkdtempSync(join(tmpdir(), 'nightshelf-demo-reference-'))
const frames: FrameWritten[] = []
const run = (test: (f: FrameWritten['frame']) => boolean) =>
  frames.filter(({ frame }) => test(frame)).map((f) => f.path)

beforeAll(async () => {
  const options = { night: '2026-11-20', seed: 1, width: 518, height: 352, speed: null }
  await writeNight(dir, options, undefined, (written) => frames.push(written))
}, 120_000)
afterAll(() => rmSync(dir, { recursive: true }))

describe.skipIf(!verifier)('fitsverify', () => {
  it(title('finds no error and no warning in any file but the one cut off', verifier, 'fitsverify'), () => {
    const masters = readdirSync(join(dir, 'library')).map((file) => join(dir, 'library', file))
    const { stdout } = spawnSync('fitsverify', ['-q', ...frames.map((f) => f.path), ...masters], {
      encoding: 'utf8',
      maxBuffer: 1 << 24,
    })
    const lines = stdout.trim().split('\n')
    expect(lines.length).toBe(frames.length + masters.length)
    const bad = lines.filter((line) => !line.startsWith('verification OK'))
    expect(bad.length).toBe(1)
    expect(bad[0]).toContain(run((f) => f.writtenFraction !== null)[0])
  })
})

describe.skipIf(!astropy)('astropy and numpy', () => {
  it(title('read every header and every pixel: size, kind and levels as the story says', astropy, 'astropy'), () => {
    const whole = frames.filter(({ frame }) => frame.writtenFraction === null)
    const found = askPython(
      `
import sys, json, numpy
from astropy.io import fits
found = []
for path in sys.argv[1:]:
    with fits.open(path) as hdus:
        header, data = hdus[0].header, hdus[0].data
        found.append([header['IMAGETYP'], header['EXPTIME'], header['OFFSET'], header['CCD-TEMP'], header['DATE-OBS'],
                      str(data.dtype), list(data.shape), float(numpy.median(data)), int((data % 4).max())])
print(json.dumps(found))
`,
      ...whole.map((f) => f.path),
    ) as [string, number, number, number, string, string, number[], number, number][]
    const kinds = { light: 'LIGHT', dark: 'DARK', flat: 'FLAT', darkFlat: 'DARKFLAT' }
    found.forEach(([kind, exposureS, offset, tempC, startedAt, type, shape, median, odd], n) => {
      const { frame } = whole[n]
      expect([kind, exposureS, offset, tempC]).toEqual([
        kinds[frame.kind],
        frame.exposureS,
        frame.settings.offset,
        frame.sensorTempC,
      ])
      expect(Date.parse(startedAt + 'Z')).toBe(frame.startedAtMs)
      expect([type, shape, odd]).toEqual(['uint16', [352, 518], 0])
      // A frame's median lies between two channels' levels, where there are few pixels: it is not sharp.
      if (frame.levelAdu) expect(Math.abs(median / frame.levelAdu - 1), frame.path).toBeLessThan(0.03)
      if (frame.kind === 'darkFlat')
        expect(Math.abs(median - pedestalAdu(heron11c, frame.settings.offset))).toBeLessThan(6)
    })
  })

  it(title('find the stated gain from two flats and two dark flats', astropy, 'astropy'), () => {
    // gain = ((F1 + F2) − (B1 + B2)) / (σ²(F1 − F2) − σ²(B1 − B2)): S. Howell, Handbook of CCD Astronomy, 4.3; dark flats stand
    // for B where the sensor glows. By channel, since a mean over unequal channels would mix three levels. Pairs from the
    // middle of the runs: their light differs by under 0.1 %.
    const flats = run((f) => f.kind === 'flat' && f.exposureS === 3)
    const darks = run((f) => f.kind === 'darkFlat' && f.exposureS === 3)
    const gains = askPython(
      `
import sys, json, numpy
from astropy.io import fits
read = lambda path: fits.getdata(path).astype(float)
gains = []
for n in range(8):
    f1, f2, b1, b2 = (read(p) for p in (sys.argv[1 + n], sys.argv[2 + n], sys.argv[11 + n], sys.argv[12 + n]))
    for y, x in ((0, 0), (0, 1), (1, 0), (1, 1)):
        p, q, r, s = (a[y::2, x::2][40:-40, 60:-60] for a in (f1, f2, b1, b2))
        gains.append((p.mean() + q.mean() - r.mean() - s.mean()) / ((p - q).var() - (r - s).var()))
print(json.dumps(gains))
`,
      ...flats.slice(0, 10),
      ...darks.slice(0, 10),
    ) as number[]
    const mean = gains.reduce((sum, g) => sum + g, 0) / gains.length
    expect(Math.abs(mean / electronsPerAdu(heron11c, 100) - 1)).toBeLessThan(0.01)
  })

  it(title('find the stated read noise, pedestal and dark current in the darks', astropy, 'astropy'), () => {
    const paths = run((f) => f.kind === 'dark')
    const short = run((f) => f.kind === 'darkFlat' && f.exposureS === 3)
    const found = askPython(
      `
import sys, json, numpy
from astropy.io import fits
n = len(sys.argv[1:]) // 2
# The left half, away from the glow, without its hottest thousandth.
stack = lambda paths: numpy.array([fits.getdata(p)[40:300, 30:200].astype(float) for p in paths])
darks, shorts = stack(sys.argv[1:1 + n]), stack(sys.argv[1 + n:])
quiet = shorts.mean(axis=0) < numpy.quantile(shorts.mean(axis=0), 0.999)
print(json.dumps({'noise': float(numpy.sqrt(numpy.median(shorts.var(axis=0, ddof=1)))),
                  'pedestal': float(numpy.median(shorts)),
                  'grown': float(numpy.median(darks.mean(axis=0) - shorts.mean(axis=0)))}))
`,
      ...paths,
      ...short.slice(0, paths.length),
    ) as { noise: number; pedestal: number; grown: number }
    const perAdu = electronsPerAdu(heron11c, 100)
    const noiseE = Math.sqrt(found.noise ** 2 - 16 / 12) * perAdu
    expect(Math.abs(noiseE / readNoiseE(heron11c, 100) - 1)).toBeLessThan(0.05)
    expect(Math.abs(found.pedestal - pedestalAdu(heron11c, 30))).toBeLessThanOrEqual(4)
    // Dark current of 117 s more, and the faint far end of the glow, which grows as well.
    expect(found.grown * perAdu).toBeGreaterThan(darkE(heron11c, 117, -10) * 0.9)
    expect(found.grown * perAdu).toBeLessThan(darkE(heron11c, 117, -10) * 3)
  })

  it(title('find in each master the noise that its number of frames leaves', astropy, 'astropy'), () => {
    const ratio = askPython(
      `
import sys, json, numpy
from astropy.io import fits
master = fits.getdata(sys.argv[1]).astype(float)
raws = numpy.array([fits.getdata(p).astype(float) for p in sys.argv[2:]])
# Both hold the same fixed pattern: what differs is the noise of the mean of the raws and of the master (20 frames each).
cut = numpy.s_[40:300, 30:200]
print(json.dumps([float(numpy.median(numpy.abs(master[cut] - raws.mean(axis=0)[cut] - numpy.median(master[cut] - raws.mean(axis=0)[cut]))) * 1.4826),
                  float(numpy.sqrt(numpy.median(raws.var(axis=0, ddof=1)[cut]) * 2 / 20))]))
`,
      join(dir, 'library', 'master-dark-120s-offset-20.fits'),
      ...run((f) => f.kind === 'dark'),
    ) as [number, number]
    expect(ratio[0] / ratio[1]).toBeGreaterThan(0.93)
    expect(ratio[0] / ratio[1]).toBeLessThan(1.07)
  })
})
