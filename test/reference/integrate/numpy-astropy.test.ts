import { mkdirSync, mkdtempSync, rmSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterAll, describe, expect, it } from 'vitest'
import { createIntegrator } from '../../../main/integrate/integrate.ts'
import type { Method } from '../../../main/integrate/method.ts'
import { openImage } from '../../../main/fits/index.ts'
import { integerColumn, normal, random, shuffle, STYLES } from '../../integrate/columns.ts'
import { writeFrame } from '../../measure/frames.ts'
import { expectedPixels, hasAstropy, hasFpack, openFile, run, titled } from './tools.ts'

// Sources: numpy (mean, median, sort) and astropy.stats.sigma_clip(cenfunc='median', stdfunc='std' and 'mad_std'), run here.
const methods: Method[] = [
  { name: 'mean' },
  { name: 'median' },
  { name: 'sigmaClip', low: 3, high: 3, rounds: 5 },
  { name: 'sigmaClip', low: 1.5, high: 2.5, rounds: 2 },
  { name: 'madClip', low: 5, high: 5, rounds: 5, leastSigma: 0 },
]
const dir = mkdtempSync(join(tmpdir(), 'nightshelf-integrate-reference-'))
const integrator = createIntegrator({ threads: 2 })
afterAll(async () => {
  await integrator.close()
  rmSync(dir, { recursive: true })
})

const WIDTH = 60
const bits = (pixels: Float32Array) => Buffer.from(pixels.buffer, pixels.byteOffset, pixels.byteLength)

async function expectSameBits(paths: string[], some: Method[]): Promise<void> {
  const wanted = expectedPixels(some, paths)
  for (const [i, method] of some.entries()) {
    const { pixels } = await integrator.integrate({ paths, method })
    expect(Buffer.compare(bits(pixels), bits(wanted[i])), method.name).toBe(0)
  }
}

async function expectWithinAMillionth(
  paths: string[],
  some: Method[],
  flat?: { path: string; pixels: SharedArrayBuffer },
) {
  const wanted = expectedPixels(some, paths, flat && { dark: flat.path })
  for (const [i, method] of some.entries()) {
    const { pixels } = await integrator.integrate({ paths, method, ...(flat && { flat: { dark: flat.pixels } }) })
    expect(worstDifference(pixels, wanted[i]), method.name).toBeLessThanOrEqual(1e-6)
  }
}

/** Clipped, constant, saturated, stepped, wide and exactly tied columns, as frames. */
function integerFrames(name: string, frames: number): string[] {
  const next = random(1000 + frames)
  const columns = STYLES.flatMap((style) => Array.from({ length: 200 }, () => integerColumn(style, frames, next)))
  mkdirSync(join(dir, name))
  return Array.from({ length: frames }, (_, k) => {
    const path = join(dir, name, `frame_${k}.fits`)
    writeFrame(
      path,
      WIDTH,
      Uint16Array.from(columns, (column) => column[k]),
    )
    return path
  })
}

describe.skipIf(!hasAstropy)('integration against numpy and astropy', () => {
  for (const frames of [1, 2, 3, 4, 5, 8, 10, 15, 16, 20, 36, 64, 72, 300])
    it(titled(`equals them to the last bit for ${frames} frames of integers`, hasAstropy, 'astropy'), async () => {
      const paths = integerFrames(`u16-${frames}`, frames)
      await expectSameBits(paths, frames > 3 ? [...methods, { name: 'minMax', low: 1, high: 2 }] : methods)
    })

  for (const frames of [2, 7, 20, 64])
    it(titled(`agrees within 1e-6 for ${frames} frames of floats with NaN`, hasAstropy, 'astropy'), async () => {
      await expectWithinAMillionth(floatFrames(`f32-${frames}`, frames), methods)
    })

  it(titled('scales flats to their common mean after subtraction, as numpy does', hasAstropy, 'astropy'), async () => {
    const next = random(3)
    mkdirSync(join(dir, 'flats'))
    const dark = join(dir, 'flats', 'dark.fits')
    writeFrame(
      dark,
      WIDTH,
      Float32Array.from({ length: 1800 }, () => 500 + 3 * normal(next)),
    )
    const paths = Array.from({ length: 20 }, (_, k) => {
      const path = join(dir, 'flats', `flat_${k}.fits`)
      const level = 20000 + 400 * k
      writeFrame(
        path,
        WIDTH,
        Uint16Array.from({ length: 1800 }, (_, i) => level * (1 - i / 6000) + 100 * normal(next)),
      )
      return path
    })
    const pixels = new SharedArrayBuffer(1800 * 4)
    using image = openImage(dark)
    image.readRows(0, 30, new Float32Array(pixels))
    await expectWithinAMillionth(paths, methods.slice(0, 4), { path: dark, pixels })
  })

  const compressed = hasFpack && hasAstropy
  it.skipIf(!compressed)(titled('reads tile-compressed frames as the plain ones', compressed, 'fpack'), async () => {
    const plain = integerFrames('plain', 20)
    run('fpack', ['-r', ...plain])
    const packed = plain.map((path) => `${path}.fz`)
    await expectSameBits(packed, methods)
  })

  const emva = openFile('emva1288')
  it.skipIf(!emva)(titled('equals them on real darks (EMVA 1288 reference set 001)', !!emva, 'open data'), async () => {
    const paths = Array.from({ length: 8 }, (_, k) => join(emva!, `d_s_000_snap_00${k}.fits.fz`))
    await expectSameBits(paths, methods)
  })
})

function floatFrames(name: string, frames: number): string[] {
  const next = random(50 + frames)
  mkdirSync(join(dir, name))
  const columns = Array.from({ length: 1800 }, (_, i) => {
    const level = i % 5 ? 1000 + i : i / 7
    const column = Array.from({ length: frames }, () => level + 10 * normal(next) + (next() < 0.02 ? 3000 : 0))
    if (i % 11 === 0) column[0] = NaN
    if (i === 22) column.fill(NaN)
    if (i % 13 === 0) column.fill(level)
    shuffle(column, next)
    return column
  })
  return Array.from({ length: frames }, (_, k) => {
    const path = join(dir, name, `frame_${k}.fits`)
    writeFrame(
      path,
      WIDTH,
      Float32Array.from(columns, (column) => column[k]),
    )
    return path
  })
}

/** Largest relative difference; infinite where just one of the two is NaN. */
function worstDifference(ours: Float32Array, theirs: Float32Array): number {
  let worst = ours.length === theirs.length ? 0 : Infinity
  for (let i = 0; i < ours.length; i++) {
    if (Number.isNaN(ours[i]) !== Number.isNaN(theirs[i])) return Infinity
    if (Number.isNaN(ours[i])) continue
    worst = Math.max(worst, Math.abs(ours[i] - theirs[i]) / Math.max(1e-30, Math.abs(theirs[i])))
  }
  return worst
}
