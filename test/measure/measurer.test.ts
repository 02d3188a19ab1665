import { createHash } from 'node:crypto'
import { mkdtempSync, readFileSync, rmSync, truncateSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { decode } from 'fast-png'
import { afterAll, beforeAll, describe, expect, it } from 'vitest'
import { createMeasurer, FileProblem, type Measurer } from '../../main/measure/measurer.ts'
import { random, normal } from '../integrate/columns.ts'
import { writeFrame } from './frames.ts'

let dir: string
let measurer: Measurer
beforeAll(() => {
  dir = mkdtempSync(join(tmpdir(), 'measure-'))
  measurer = createMeasurer({ workers: 2 })
})
afterAll(async () => {
  await measurer.close()
  rmSync(dir, { recursive: true })
})
const at = (name: string) => join(dir, name)

describe('measure', { timeout: 60_000 }, () => {
  it('gives figures that can be checked by hand, per channel of a filter array', async () => {
    // R 100, 102 · G 200 … · B 300, 304 in a 4 × 2 RGGB frame
    writeFrame(at('hand.fits'), 4, Uint16Array.from([100, 200, 102, 204, 208, 300, 212, 304]))
    const { figures, step } = await measurer.measure(at('hand.fits'), { cfa: 'RGGB' })
    expect(figures).toEqual({
      width: 4,
      height: 2,
      median: 206,
      mean: 203.75,
      sd: expect.closeTo(71.17891, 5),
      min: 100,
      max: 304,
      clippedLow: 0,
      clippedHigh: 0,
      noise: 0,
      channels: { R: { median: 101, mean: 101 }, G: { median: 206, mean: 206 }, B: { median: 302, mean: 302 } },
    })
    expect(step).toBe(2)
  })

  it('counts clipped pixels at both ends, of 16-bit and of shifted 14-bit data', async () => {
    writeFrame(at('ends.fits'), 4, Uint16Array.from([0, 0, 65535, 7, 65535, 65535, 9, 11]))
    expect((await measurer.measure(at('ends.fits'), { cfa: null })).figures).toMatchObject({
      clippedLow: 2,
      clippedHigh: 3,
    })
    writeFrame(at('shifted.fits'), 4, Uint16Array.from([400, 65532, 65532, 804]))
    expect((await measurer.measure(at('shifted.fits'), { cfa: null })).figures.clippedHigh).toBe(2)
    const pile = Uint16Array.from({ length: 400 }, (_, i) => (i < 20 ? 4095 : 3000 + (i % 90)))
    writeFrame(at('unshifted.fits'), 20, pile)
    expect((await measurer.measure(at('unshifted.fits'), { cfa: null })).figures.clippedHigh).toBe(20)
  })

  it('measures the noise that was put in, beside a gradient and stars', async () => {
    const next = random(5)
    const [width, height] = [600, 400]
    const image = Uint16Array.from({ length: width * height }, (_, i) => {
      const star = i % 977 === 0 ? 20000 : 0
      return Math.round(3000 + (i % width) * 2 + star + 25 * normal(next))
    })
    writeFrame(at('noise.fits'), width, image)
    for (const cfa of [null, 'RGGB'])
      expect((await measurer.measure(at('noise.fits'), { cfa })).figures.noise / 25).toBeCloseTo(1, 1)
  })

  it('measures float images by exact selection, NaN left out', async () => {
    const next = random(6)
    const image = Float32Array.from({ length: 5000 }, (_, i) => (i % 13 ? 0.1 + next() : NaN))
    writeFrame(at('float.fits'), 100, image)
    const { figures, step } = await measurer.measure(at('float.fits'), { cfa: null, thumbnail: true })
    const sorted = image.filter(Number.isFinite).sort()
    const n = sorted.length
    expect(figures.median).toBe((sorted[(n - 1) >> 1] + sorted[n >> 1]) / 2)
    expect([figures.min, figures.max, step]).toEqual([sorted[0], sorted[n - 1], null])
    expect(figures.mean).toBeCloseTo(sorted.reduce((a, b) => a + b, 0) / n, 12)
  })

  it('hashes the whole file on the way, and makes a picture no wider than 420 pixels', async () => {
    const image = Uint16Array.from({ length: 1000 * 300 }, (_, i) => 1000 + (i % 1000))
    writeFrame(at('wide.fits'), 1000, image)
    const measured = await measurer.measure(at('wide.fits'), { cfa: 'RGGB', thumbnail: true, hash: true })
    expect(measured.sha256).toBe(
      createHash('sha256')
        .update(readFileSync(at('wide.fits')))
        .digest('hex'),
    )
    const png = decode(measured.thumbnail!)
    expect([png.width, png.height, png.channels]).toEqual([250, 75, 3])
    const row = Array.from({ length: 250 }, (_, x) => png.data[x * 3])
    expect(row.toSorted((a, b) => a - b)).toEqual(row)
    expect([row[0], row[249]]).toEqual([0, 255])
  })

  it('says in a sentence what is wrong with a file, and goes on with the next', async () => {
    writeFrame(at('cut.fits'), 100, new Uint16Array(10_000).fill(500))
    truncateSync(at('cut.fits'), 9000)
    writeFileSync(at('text.fits'), 'not a picture')
    for (const name of ['cut.fits', 'text.fits', 'absent.fits']) {
      const failed = await measurer.measure(at(name), { cfa: null }).catch((e: unknown) => e)
      expect(failed).toBeInstanceOf(FileProblem)
      expect((failed as FileProblem).path).toBe(at(name))
      expect((failed as FileProblem).message).toMatch(/^[A-Z].*\.$/)
    }
    expect((await measurer.measure(at('hand.fits'), { cfa: null })).figures.max).toBe(304)
  })

  it('rejects what was pending when it is stopped, and starts afresh for the next', async () => {
    const stop = new AbortController()
    const pending = [1, 2, 3, 4].map(() => measurer.measure(at('wide.fits'), { cfa: null, hash: true }, stop.signal))
    stop.abort(new Error('enough'))
    for (const outcome of await Promise.allSettled(pending))
      expect(outcome.status === 'rejected' && outcome.reason.message).toBe('enough')
    expect((await measurer.measure(at('hand.fits'), { cfa: null })).figures.min).toBe(100)
  })
})
