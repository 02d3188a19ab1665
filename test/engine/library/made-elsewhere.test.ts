import { rmSync } from 'node:fs'
import { join } from 'node:path'
import { expect, test } from 'vitest'
import type { MasterAnswers } from '../../../main/contract/index.ts'
import type { Engine } from '../../../main/engine/open.ts'
import { freshEngine } from '../engines.ts'
import { createScene } from '../inspect/scene.ts'
import { freshFolder, writeFrame, type FrameSpec } from '../night-files.ts'

const masterFile = (name: string, spec: FrameSpec) =>
  writeFrame(freshFolder(), name, { startedAt: '2026-10-01T20:00:00', target: null, ...spec })
const masterOf = async (engine: Engine, id: number) => (await engine.ask('master', { id })).master!
async function add(engine: Engine, path: string, answers: MasterAnswers = {}): Promise<number> {
  const { added } = await engine.ask('addMasters', { paths: [path], answers })
  expect(added).toHaveLength(1)
  return added[0].id
}

test('figures come without anybody opening its page, in ADU also where values go from 0 to 1, once the scale is known', async () => {
  const scene = createScene()
  const paths = (['float32', 'unit'] as const).map((stored) =>
    scene.master({ file: `${stored}.fits`, kind: 'dark', exposureS: 300, frames: 30, stored }),
  )
  paths.push(scene.master({ file: 'flat.fits', kind: 'flat', exposureS: 6 }))
  const engine = await freshEngine({ live: true })
  const known = async () => (await engine.ask('library', {})).masters.filter(({ figures }) => figures !== null)
  await engine.ask('addMasters', { paths })
  await expect.poll(async () => (await known()).length, { timeout: 20_000 }).toBe(2)
  const unit = (await engine.ask('library', {})).masters.find(({ figures }) => figures === null)!
  expect(unit.scale).toBeNull()
  await engine.ask('addMasters', { paths: [unit.path], answers: { scale: 'unit', subtracted: 'none' } })
  await expect.poll(async () => (await known()).length, { timeout: 20_000 }).toBe(3)
  const [adu, scaled] = (await known()).filter(({ kind }) => kind === 'dark').sort((a) => (a.scale === 'adu' ? -1 : 1))
  // Pedestal of 40 + 16 × 30 ADU as planted, and a little dark signal.
  expect(adu.figures!.median).toBeGreaterThan(515)
  expect(adu.figures!.median).toBeLessThan(560)
  expect(Math.abs(scaled.figures!.median - adu.figures!.median)).toBeLessThan(1)
  expect(adu.figures!.glowPeakAdu!).toBeGreaterThan(100)
  expect((await known()).find(({ kind }) => kind === 'flat')!.figures!.flat!.balance).not.toBeNull()
  // Told as ADU after all: figures of the other scale are not kept.
  const { id } = scaled
  await engine.ask('addMasters', { paths: [unit.path], answers: { scale: 'adu' } })
  await expect
    .poll(async () => (await masterOf(engine, id)).figures?.median ?? 1, { timeout: 20_000 })
    .toBeLessThan(0.1)
})

test('is described again like a frame: a spelling tells what it lacked, and what a person told stays where the header is silent', async () => {
  const engine = await freshEngine()
  const spec = { kind: 'Dark', filter: null, offset: null, gain: null, more: [{ keyword: 'SCHWARZ', value: 55 }] }
  const path = masterFile('dark.fits', spec)
  const id = await add(engine, path, { gain: 120, offset: 30, scale: 'adu', subtracted: 'none' })
  expect(await masterOf(engine, id)).toMatchObject({ gain: 120, offset: 30 })
  rmSync(path)
  await engine.ask('addSpelling', { keyword: 'SCHWARZ', setting: 'offset' })
  expect(await masterOf(engine, id)).toMatchObject({ gain: 120, offset: 55 })
  await engine.ask('removeSpelling', { keyword: 'SCHWARZ' })
  expect(await masterOf(engine, id)).toMatchObject({ gain: 120, offset: 30, scale: 'adu', subtracted: 'none' })
})

test('follows the rig whose folder it stands in, and filter names', async () => {
  const engine = await freshEngine()
  const path = masterFile('flat.fits', { kind: 'Flat Field', filter: 'H-alpha', exposureS: 4 })
  const other = masterFile('other.fits', { kind: 'Flat Field', filter: 'H-alpha', exposureS: 4, seed: 9 })
  const [id, elsewhere] = [await add(engine, path), await add(engine, other)]
  await engine.ask('setRig', { name: 'Garden', folder: join(path, '..'), train: 'long tube' })
  expect(await masterOf(engine, id)).toMatchObject({
    rig: 'Garden',
    train: 'long tube',
    epoch: expect.stringMatching(/^Garden/),
  })
  expect((await masterOf(engine, elsewhere)).rig).toBeNull()
  await engine.ask('undo', {})
  expect((await masterOf(engine, id)).rig).toBeNull()
  await engine.ask('setWords', { filterAliases: { 'H-alpha': 'red line' } })
  for (const one of [id, elsewhere]) expect((await masterOf(engine, one)).filter).toBe('red line')
})

test('taken in before headers were kept, it is read once more; what its row knows and its header does not was told by hand', async () => {
  const engine = await freshEngine()
  const path = masterFile('dark.fits', {
    kind: 'Dark',
    filter: null,
    gain: null,
    more: [{ keyword: 'KALT', value: -15 }],
    tempC: null,
  })
  const id = await add(engine, path, { gain: 'HI', tempC: -10 })
  engine.db.exec('DELETE FROM master_cards')
  await engine.measureMasters()
  await engine.ask('addSpelling', { keyword: 'KALT', setting: 'setTempC' })
  expect(await masterOf(engine, id)).toMatchObject({ gain: 'HI', setTempC: -15, sensorTempC: null })
})

test('what lit it is told by its header, or by a person, and can be taken back', async () => {
  const engine = await freshEngine()
  const id = await add(engine, masterFile('flat.fits', { kind: 'Sky Flat', exposureS: 4 }))
  const lit = async () => (await masterOf(engine, id)).lightSource
  expect(await lit()).toBe('sky')
  const { master, step } = await engine.ask('setMasterLight', { id, source: 'panel' })
  expect(master.lightSource).toBe('panel')
  await engine.ask('setWords', { filterAliases: { Ha: 'H' } })
  expect(await lit()).toBe('panel')
  expect((await engine.ask('setMasterLight', { id, source: 'panel' })).step).toBeNull()
  await engine.ask('undo', { id: step! })
  expect(await lit()).toBe('sky')
  const dark = await add(engine, masterFile('dark.fits', { kind: 'Dark', filter: null }), { lightSource: 'sky' })
  expect((await masterOf(engine, dark)).lightSource).toBeNull()
  await expect(engine.ask('setMasterLight', { id: dark, source: 'sky' })).rejects.toThrow(`Master ${dark} is no flat`)
})
