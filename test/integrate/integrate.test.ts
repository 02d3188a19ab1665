import { mkdtempSync, readdirSync, rmSync, truncateSync, utimesSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterAll, beforeAll, describe, expect, it } from 'vitest'
import { combineColumn } from '../../main/integrate/column.ts'
import { createIntegrator, type Integrator } from '../../main/integrate/integrate.ts'
import type { Method } from '../../main/integrate/method.ts'
import { FileProblem } from '../../main/measure/crew.ts'
import { writeFrame } from '../measure/frames.ts'
import { normal, random } from './columns.ts'

const clip: Method = { name: 'sigmaClip', low: 3, high: 3, rounds: 5 }
let dir: string
let integrator: Integrator
beforeAll(() => {
  dir = mkdtempSync(join(tmpdir(), 'integrate-'))
  integrator = createIntegrator({ threads: 2 })
})
afterAll(async () => {
  await integrator.close()
  rmSync(dir, { recursive: true })
})

/** Frames of `width` × `height` around `level`, noise `sd`. */
function frames(name: string, count: number, width: number, height: number, level = 1000, sd = 10): string[] {
  const next = random(17)
  return Array.from({ length: count }, (_, k) => {
    const path = join(dir, `${name}_${k}.fits`)
    writeFrame(
      path,
      width,
      Uint16Array.from({ length: width * height }, () => level + sd * normal(next)),
    )
    return path
  })
}

const problemOf = async (work: Promise<unknown>): Promise<FileProblem> => {
  const outcome = await work.then(
    () => null,
    (e: unknown) => e,
  )
  expect(outcome).toBeInstanceOf(FileProblem)
  expect((outcome as FileProblem).message).toMatch(/^[A-Z].*\.$/)
  return outcome as FileProblem
}

describe('integrate', { timeout: 60_000 }, () => {
  it('makes of one frame, and of identical frames, that frame', async () => {
    const [path] = frames('one', 1, 33, 9)
    const single = await integrator.integrate({ paths: [path], method: { name: 'mean' }, figures: { cfa: null } })
    const many = await integrator.integrate({ paths: Array(20).fill(path), method: clip, figures: { cfa: null } })
    expect(many.pixels).toEqual(single.pixels)
    expect(single.figures).toMatchObject({ noise: null, expectedNoise: null })
    expect(many.figures).toMatchObject({ noise: 0, expectedNoise: 0 })
    expect(many.leftOutShare).toBe(0)
  })

  it('measures the noise that N frames must have, hot pixels and glow', async () => {
    const paths = frames('noise', 20, 400, 300, 1000, 10)
    const { figures } = await integrator.integrate({ paths, method: clip, figures: { cfa: null } })
    expect(figures!.frameNoise! / 10).toBeCloseTo(1, 1)
    expect(figures!.noise! / figures!.expectedNoise!).toBeCloseTo(1, 1)
    expect(figures!.hotPixels).toBe(0)
    expect(figures!.hotThresholdAdu! / 50).toBeCloseTo(1, 1)
  })

  it('hashes sources and scales flats to a common mean on request', async () => {
    const paths = [...frames('flat a', 3, 40, 30, 20000, 0), ...frames('flat b', 3, 40, 30, 30000, 0)]
    const dark = new SharedArrayBuffer(40 * 30 * 4)
    new Float32Array(dark).fill(1000)
    const flat = await integrator.integrate({ paths, method: { name: 'median' }, flat: { dark }, hash: true })
    expect(flat.levels).toEqual({ means: [19000, 19000, 19000, 29000, 29000, 29000], common: 24000 })
    expect(Array.from(flat.pixels.subarray(0, 3))).toEqual([24000, 24000, 24000])
    expect(flat.hashes!.every((hash) => /^[0-9a-f]{64}$/.test(hash))).toBe(true)
  })

  it('mixes kinds of numbers through the float64 kernel', async () => {
    const [short] = frames('short', 1, 20, 10)
    const float = join(dir, 'float.fits')
    writeFrame(
      float,
      20,
      Float32Array.from({ length: 200 }, (_, i) => (i ? i + 0.25 : NaN)),
    )
    const { pixels } = await integrator.integrate({ paths: [short, float], method: { name: 'mean' } })
    const alone = await integrator.integrate({ paths: [short], method: { name: 'mean' } })
    expect(pixels[0]).toBe(alone.pixels[0])
    expect(pixels[7]).toBe(Math.fround(combineColumn([alone.pixels[7], 7.25], { name: 'mean' }).value))
  })

  it('names the frame that has another size, is cut or gone, and leaves nothing', async () => {
    const paths = frames('good', 4, 30, 20)
    const [other] = frames('other', 1, 31, 20)
    const [cut] = frames('cut', 1, 30, 20)
    truncateSync(cut, 3500)
    const gone = join(dir, 'gone.fits')
    for (const [bad, code] of [
      [other, 'size'],
      [cut, 'data-cut'],
      [gone, 'unreadable'],
    ]) {
      const problem = await problemOf(integrator.integrate({ paths: [...paths, bad], method: clip }))
      expect([problem.path, problem.code]).toEqual([bad, code])
    }
  })

  it('notices a frame that is changed while it works', async () => {
    const paths = frames('touched', 6, 500, 400)
    const touch = (done: number) => done === 0 && utimesSync(paths[2], 1, 1)
    const timer = setInterval(() => touch(0), 1)
    const problem = await problemOf(integrator.integrate({ paths, method: clip, hash: true }))
    clearInterval(timer)
    expect([problem.path, problem.code]).toEqual([paths[2], 'changed'])
  })

  it('stops at once when told to, tells how far it is, and works again afterwards', async () => {
    const paths = frames('long', 30, 600, 400)
    const stop = new AbortController()
    const work = integrator.integrate({ paths, method: clip, hash: true, signal: stop.signal })
    setTimeout(() => stop.abort(new Error('enough')), 20)
    await expect(work).rejects.toThrow('enough')
    const told: [number, number][] = []
    await integrator.integrate({ paths, method: clip, onProgress: (done, total) => told.push([done, total]) })
    const [done, total] = told.at(-1)!
    expect(done).toBe(total)
    expect(readdirSync(dir).every((name) => name.endsWith('.fits'))).toBe(true)
  })

  it('refuses a method that would leave nothing', async () => {
    const paths = frames('few', 3, 8, 8)
    await expect(integrator.integrate({ paths, method: { name: 'minMax', low: 2, high: 1 } })).rejects.toThrow(
      RangeError,
    )
  })
})
