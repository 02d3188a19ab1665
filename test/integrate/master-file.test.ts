import { chmodSync, existsSync, mkdtempSync, readdirSync, readFileSync, rmSync } from 'node:fs'
import { spawnSync } from 'node:child_process'
import { createHash } from 'node:crypto'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterAll, beforeAll, describe, expect, it } from 'vitest'
import type { Settings } from '../../main/contract/index.ts'
import { openImage, readFitsInfo } from '../../main/fits/index.ts'
import { describeFrame } from '../../main/frame/describe.ts'
import { hashMaster, writeMaster, type MasterContent } from '../../main/integrate/master-file.ts'
import { masterFileName, numbered } from '../../main/integrate/name.ts'

export const settings: Settings = {
  camera: 'Heron 11C',
  body: 'H11-0042',
  width: 12,
  height: 5,
  originX: 0,
  originY: 0,
  binning: '1x1',
  readout: 0,
  gain: 120,
  offset: 30,
  setTempC: -10,
  sensorTempC: -10.1,
  exposureS: 300,
  filter: 'Ha',
  telescope: 'Reed 80',
  focalMm: 432.5,
  mechAngleDeg: 91.5,
  skyAngleDeg: null,
  cfa: 'GBRG',
  rowOrder: 'TOP-DOWN',
  rig: null,
  train: null,
}

const content = (over: Partial<MasterContent> = {}): MasterContent => ({
  kind: 'dark',
  settings,
  pixels: Float32Array.from({ length: 60 }, (_, i) => i / 3),
  width: 12,
  height: 5,
  method: { name: 'sigmaClip', low: 3, high: 3, rounds: 5 },
  sources: [
    { name: 'a.fits', sha256: 'a'.repeat(64), startedAt: '2026-11-20T22:00:00.000Z', scale: null, leftOut: null },
    { name: 'b.fits', sha256: 'b'.repeat(64), startedAt: null, scale: null, leftOut: 'The sensor was warm.' },
  ],
  firstAt: '2026-11-20T22:00:00.000Z',
  lastAt: '2026-11-20T23:35:00.000Z',
  subtracted: 'none',
  subtractedSha256: null,
  electronsPerAdu: 0.35,
  pixelUm: 4.63,
  madeAt: '2026-11-21T09:00:00.000Z',
  program: 'Nightshelf 0.1.0',
  ...over,
})

let dir: string
beforeAll(() => void (dir = mkdtempSync(join(tmpdir(), 'master-'))))
afterAll(() => rmSync(dir, { recursive: true }))

describe('a written master', () => {
  it('reads back to the last bit, and its header says every field of the key', () => {
    const written = writeMaster(join(dir, 'new'), masterFileName('dark', settings, '2026-11-20'), content())
    expect(written.path).toBe(
      join(dir, 'new', '2026-11-20 Heron 11C H11-0042 dark 300 s minus 10 C gain 120 offset 30.fits'),
    )
    using image = openImage(written.path)
    expect(image.readAll()).toEqual(content().pixels)
    const { header } = image
    const file = { path: written.path, mtimeMs: 0, width: 12, height: 5 }
    const facts = describeFrame(header, file, { zone: 'UTC', rig: null })
    const { rig: _rig, train: _train, skyAngleDeg: _sky, ...told } = settings
    expect(facts).toMatchObject({ ...told, kind: 'dark', combined: 1, startedAt: '2026-11-20T22:00:00.000Z' })
    expect(facts.conflicts).toEqual([])
    expect(written.sha256).toBe(createHash('sha256').update(readFileSync(written.path)).digest('hex'))
    expect(readFitsInfo(written.path).units.map((unit) => unit.extension)).toEqual(['', 'BINTABLE'])
  })

  it('gives the same bytes for the same content, and others for others', () => {
    const written = writeMaster(dir, 'same.fits', content())
    expect(hashMaster(content(), join(dir, 'scratch'))).toBe(written.sha256)
    const other = content({ pixels: content().pixels.map((x) => x + 1e-6) })
    expect(hashMaster(other, join(dir, 'scratch'))).not.toBe(written.sha256)
    expect(existsSync(join(dir, 'scratch'))).toBe(false)
  })

  it('never takes the place of another', () => {
    const first = writeMaster(dir, 'twice.fits', content())
    const second = writeMaster(dir, 'twice.fits', content())
    expect([first.path, second.path]).toEqual([join(dir, 'twice.fits'), join(dir, 'twice (2).fits')])
  })

  it('says in one sentence that the folder cannot be written, and leaves nothing', () => {
    const closed = mkdtempSync(join(dir, 'closed-'))
    chmodSync(closed, 0o555)
    // root writes everywhere: a path below a file stands in for the closed folder then
    const target = process.getuid?.() === 0 ? join(dir, 'twice.fits', 'below') : closed
    expect(() => writeMaster(target, 'x.fits', content())).toThrow(
      /^(Nothing may be written|The master cannot be written).*\.$/,
    )
    expect(readdirSync(closed)).toEqual([])
  })

  const small = '/tmp/nightshelf-small-disk'
  const mounted = spawnSync('sh', ['-c', `mkdir -p ${small} && mount -t tmpfs -o size=64k tmpfs ${small}`]).status === 0
  it.skipIf(!mounted)('on a full disk leaves nothing half written, and goes on when there is room', () => {
    try {
      const big = content({ pixels: new Float32Array(120 * 500), width: 120, height: 500 })
      expect(() => writeMaster(small, 'x.fits', big)).toThrow(/^The disk is full: make room in .*\.$/)
      expect(readdirSync(small)).toEqual([])
      expect(existsSync(writeMaster(small, 'x.fits', content()).path)).toBe(true)
    } finally {
      spawnSync('umount', [small])
      rmSync(small, { recursive: true })
    }
  })
})

describe('masterFileName', () => {
  it('is readable and holds nothing that Windows refuses', () => {
    const odd = { ...settings, camera: 'A<B>:"C/D\\E|F?*', body: null, filter: 'L-Pro / 2"', exposureS: 3.2 }
    expect(masterFileName('flat', odd, '2026-11-20')).toBe(
      '2026-11-20 A B C D E F flat L-Pro 2 3.2 s minus 10 C gain 120 offset 30.fits',
    )
    expect(masterFileName('darkFlat', { camera: 'X', gain: 'HI', binning: '2x2', setTempC: -0.04 }, '2026-11-20')).toBe(
      '2026-11-20 X dark flat 0 C gain HI bin 2x2.fits',
    )
    expect(Buffer.byteLength(masterFileName('dark', { camera: 'é'.repeat(300) }, '2026-11-20'))).toBeLessThan(200)
    expect(numbered('a.fits', 3)).toBe('a (3).fits')
  })
})
