import { existsSync, mkdirSync, readdirSync, readFileSync, symlinkSync, writeFileSync } from 'node:fs'
import { join } from 'node:path'
import { describe, expect, it, onTestFinished } from 'vitest'
import { Refusal } from '../../../main/contract/index.ts'
import { openEngine, type Engine } from '../../../main/engine/open.ts'
import { openImage } from '../../../main/fits/index.ts'
import { StillClock } from '../engines.ts'
import { createScene, type Scene } from './scene.ts'

async function withShelf(scene: Scene = createScene({ width: 776, height: 528 })) {
  const flatOf = { kind: 'flat', exposureS: 3, filter: 'luminance', levelAdu: 28_000 } as const
  const paths = [
    scene.master({ file: 'flat.fits', ...flatOf }),
    scene.master({ file: 'dark.fits', kind: 'dark', exposureS: 300, frames: 30 }),
    scene.master({ file: 'short.fits', kind: 'dark', exposureS: 120, frames: 30 }),
    scene.master({ file: 'long.fits', kind: 'dark', exposureS: 600, frames: 30 }),
  ]
  const engine = await openEngine({ dataDir: join(scene.folder, 'data'), clock: new StillClock(), zone: 'UTC' })
  onTestFinished(() => engine.close())
  const { added } = await engine.ask('addMasters', { paths, answers: {}, copy: false })
  const idOf = (exposureS: number) => added.find((m) => m.exposureS === exposureS)!.id
  return { scene, engine, flat: idOf(3), dark: idOf(300), short: idOf(120), long: idOf(600) }
}

const refusal = (work: Promise<unknown>) =>
  work.then(
    () => 'nothing was refused',
    (error: unknown) => (error instanceof Refusal ? error.message : String(error)),
  )
const proof = (engine: Engine, ask: { path: string; out?: string; masters?: number[] }) => engine.ask('proof', ask)

describe('a proof', () => {
  it('removes glow, vignetting and hot pixels with the matched masters, and writes what it says', async () => {
    const { scene, engine, dark, flat } = await withShelf()
    const path = scene.light('light')
    const out = join(scene.folder, 'proof.fits')
    const answer = await proof(engine, { path, out })
    expect(answer).toMatchObject({ kind: 'proof', dark, flat, out, forced: false })
    const { before, after } = answer.figures
    expect(before.glowAdu!).toBeGreaterThan(5 * after.noiseAdu)
    expect(Math.abs(after.glowOverNoise!)).toBeLessThan(0.5)
    expect(answer.text).toContain('Glow removed to')
    expect(Math.abs(after.vignettingLeft!)).toBeLessThan(0.15)
    expect(after.hotPixels).toBeLessThan(0.2 * before.hotPixels)
    using image = openImage(out)
    expect(image.sampleType).toBe('float32')
    expect(image.header.text('INSTRUME')).toBe('Heron 11C')
    expect(image.header.number('EXPTIME')).toBe(300)
    const history = image.header.cards
      .filter((c) => c.keyword === 'HISTORY')
      .map((c) => c.value)
      .join(' ')
    expect(history).toContain('dark.fits')
    expect(history).toContain('flat.fits')
    for (const view of ['before.png', 'after.png'] as const)
      expect(existsSync((await engine.ask('file', { of: 'check', id: answer.id, view })).path)).toBe(true)
  })

  it('with a forced dark that is too short or too long tells glow that is left, or taken away too much', async () => {
    const { scene, engine, short, long, dark } = await withShelf()
    const path = scene.light('light')
    const less = await proof(engine, { path, masters: [short] })
    expect(less).toMatchObject({ dark: short, forced: true, out: null })
    expect(less.text).toContain('under-subtracted')
    const more = await proof(engine, { path, masters: [long] })
    expect(more.text).toContain('over-subtracted')
    expect(await proof(engine, { path, masters: [dark] })).toMatchObject({ dark, forced: false })
  })

  it('never writes among frames, over frames or masters, or where it may not', async () => {
    const { scene, engine } = await withShelf()
    const path = scene.light('light')
    const capture = join(scene.folder, 'capture')
    const before = readFileSync(path)
    symlinkSync(capture, join(scene.folder, 'link'))
    writeFileSync(join(scene.folder, 'notes.txt'), 'mine')
    mkdirSync(join(scene.folder, 'sub'))
    const to = (out: string) => refusal(proof(engine, { path, out: join(scene.folder, out) }))
    expect(await to('capture/proof.fits')).toContain('write the proof elsewhere')
    expect(await to('link/proof.fits')).toContain('write the proof elsewhere')
    expect(await to('capture/light.fits')).toContain('write the proof elsewhere')
    expect(await to('shelf/flat.fits')).toContain('is a frame or a master')
    expect(await to('notes.txt')).toContain('was not written as a proof')
    expect(await to('sub')).toContain('is a folder')
    expect(await to('nowhere/proof.fits')).toContain('is not there: make it first')
    expect(readFileSync(path).equals(before)).toBe(true)
    expect(readdirSync(capture)).toEqual(['light.fits'])
    expect(readFileSync(join(scene.folder, 'notes.txt'), 'utf8')).toBe('mine')
  })

  it('may be written again over itself, and leaves no temporary file, its own or one of a process that died', async () => {
    const { scene, engine } = await withShelf()
    const path = scene.light('light')
    const out = join(scene.folder, 'proofs', 'proof.fits')
    mkdirSync(join(scene.folder, 'proofs'))
    writeFileSync(join(scene.folder, 'proofs', '.999999999-abc.proof-part'), 'half')
    await proof(engine, { path, out })
    await proof(engine, { path, out })
    expect(readdirSync(join(scene.folder, 'proofs'))).toEqual(['proof.fits'])
  })

  it('is refused where a master is lacking, with the nearest named', async () => {
    const { scene, engine, long } = await withShelf()
    const refused = await proof(engine, { path: scene.light('light', { exposureS: 500 }) }).catch((e: unknown) => e)
    expect(refused).toMatchObject({
      message: expect.stringContaining(`the nearest is master ${long} (600 s, this light has 500 s): build darks`),
      waysOut: [{ take: long }],
    })
  })
})
