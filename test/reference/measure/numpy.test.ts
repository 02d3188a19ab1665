import { mkdtempSync, rmSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterAll, describe, expect, it } from 'vitest'
import type { Figures } from '../../../main/contract/index.ts'
import { createMeasurer } from '../../../main/measure/measurer.ts'
import { normal, random } from '../../integrate/columns.ts'
import { writeFrame } from '../../measure/frames.ts'
import { hasAstropy, openFile, PYTHON, run, titled } from '../integrate/tools.ts'

// Sources: numpy's median, mean, std, and the formula 1.4826 × MAD of neighbour differences over √2, run here on the same frames.
const dir = mkdtempSync(join(tmpdir(), 'nightshelf-measure-reference-'))
const measurer = createMeasurer({ workers: 2 })
afterAll(async () => {
  await measurer.close()
  rmSync(dir, { recursive: true })
})

/** A frame of odd or even size with noise, clipped pixels at both ends and stars. */
function made(name: string, width: number, height: number, seed: number): string {
  const next = random(seed)
  const path = join(dir, name)
  const clip = (x: number) => Math.min(65535, Math.max(0, x))
  const image = Uint16Array.from({ length: width * height }, (_, i) =>
    next() < 0.001 ? 65535 : next() < 0.001 ? 0 : clip(1000 + 30 * (i % 2) + (i % width) + 25 * normal(next)),
  )
  writeFrame(path, width, image)
  return path
}

async function expectAgreement(paths: string[], cfa: string | null): Promise<void> {
  const wanted: Figures[] = JSON.parse(run(PYTHON, [join(import.meta.dirname, 'expected.py'), cfa ?? 'none', ...paths]))
  for (const [i, path] of paths.entries()) {
    const { figures } = await measurer.measure(path, { cfa })
    const { mean, sd, noise, channels, ...exact } = wanted[i]
    expect(figures).toMatchObject(exact)
    expect(figures.mean / mean).toBeCloseTo(1, 12)
    expect(figures.sd / sd).toBeCloseTo(1, 10)
    expect(figures.noise / noise).toBeCloseTo(1, 12)
    for (const c of ['R', 'G', 'B'] as const) {
      expect(figures.channels?.[c].median).toBe(channels?.[c].median)
      if (channels) expect(figures.channels![c].mean / channels[c].mean).toBeCloseTo(1, 12)
    }
  }
}

describe.skipIf(!hasAstropy)('figures against numpy', { timeout: 300_000 }, () => {
  for (const cfa of [null, 'RGGB', 'GRBG', 'BGGR'])
    it(titled(`agree on 16-bit frames of odd and even size, ${cfa ?? 'mono'}`, hasAstropy, 'astropy'), async () => {
      const sizes = [
        [300, 200],
        [301, 201],
        [333, 100],
      ]
      await expectAgreement(
        sizes.map(([w, h], i) => made(`${cfa}-${w}.fits`, w, h, i + 5)),
        cfa,
      )
    })

  const emva = openFile('emva1288')
  it.skipIf(!emva)(
    titled('agree on real, tile-compressed frames (EMVA 1288 set 001)', !!emva, 'open data'),
    async () => {
      const names = ['b_000_snap_001', 'b_018_snap_001', 'd_005_snap_001', 'd_s_000_snap_003']
      await expectAgreement(
        names.map((name) => join(emva!, `${name}.fits.fz`)),
        null,
      )
    },
  )

  const matrix = openFile('fpack-matrix')
  it.skipIf(!matrix)(titled('agree on floats with NaN and on 32-bit integers', !!matrix, 'open data'), async () => {
    await expectAgreement([join(matrix!, 'f32_150x90.fits'), join(matrix!, 'i32_150x90.fits')], null)
  })

  const real = openFile('real-ccd-frames')
  it.skipIf(!real)(
    titled('give the published minimum, maximum and mean of two real CCD frames', !!real, 'open data'),
    async () => {
      // From the open data sets' own table.
      const saao = (await measurer.measure(join(real!, 'a8280271.fits'), { cfa: null })).figures
      expect([saao.min, saao.max, saao.mean]).toEqual([187, 1715, expect.closeTo(296.000312, 5)])
      const cooled = (await measurer.measure(join(real!, 'cooled_ccd_light_crop.fit'), { cfa: null })).figures
      expect([cooled.min, cooled.max, cooled.mean]).toEqual([3132, 5045, expect.closeTo(3209.7454, 3)])
    },
  )
})
