import { readdirSync, writeFileSync } from 'node:fs'
import { basename, join } from 'node:path'
import { expect, test } from 'vitest'
import { MASTER_KINDS, MASTER_STATES } from '../../main/contract/index.ts'
import { newIncoming } from '../../main/engine/library/incoming.ts'
import type { Engine } from '../../main/engine/open.ts'
import { freshEngine, StillClock } from './engines.ts'
import { frameBytes, freshFolder, writeFrame, writeRun } from './night-files.ts'
import { addMaster, captureFolder } from './rigs/shelf.ts'

const ids = (engine: Engine) => engine.ask('shelf', {}).then(({ columns }) => columns.id)

test('the shelf comes in pages of columns that say the same as the masters themselves', async () => {
  const engine = await freshEngine()
  for (const exposureS of [60, 120, 300]) await addMaster(engine, 'Dark', { exposureS })
  await addMaster(engine, 'Flat', { exposureS: 4, filter: 'Ha' })
  const whole = await engine.ask('shelf', {})
  const { masters } = await engine.ask('library', {})
  expect(whole.total).toBe(4)
  const at = (id: number) => whole.columns.id.indexOf(id)
  for (const master of masters) {
    const row = at(master.id)
    const text = (place: number) => (place < 0 ? null : whole.texts[place])
    expect(MASTER_KINDS[whole.columns.kind[row]]).toBe(master.kind)
    expect(MASTER_STATES[whole.columns.state[row]]).toBe(master.state)
    expect(text(whole.columns.camera[row])).toBe(master.camera)
    expect(text(whole.columns.gain[row])).toBe(String(master.gain))
    expect(text(whole.columns.filter[row])).toBe(master.filter)
    expect(whole.columns.exposureS[row]).toBe(master.exposureS)
    expect(whole.columns.madeAtMs[row]).toBe(Date.parse(master.madeAt!))
    expect(whole.columns.confirmed[row]).toBe(1)
  }
  const first = await engine.ask('shelf', { most: 3 })
  const rest = await engine.ask('shelf', { after: first.columns.id.at(-1)!, most: 3 })
  expect([...first.columns.id, ...rest.columns.id]).toEqual(whole.columns.id)
  expect(rest.version).toBe(first.version)
  await engine.ask('retireMaster', { id: masters[0].id })
  expect((await engine.ask('shelf', {})).version).not.toBe(first.version)
})

test('coverage says which darks the lights of all nights ask for, and which masters answer', async () => {
  const engine = await freshEngine({ clock: new StillClock() })
  const folder = captureFolder('nights')
  writeRun(folder, 4, { exposureS: 300 })
  writeRun(join(folder, 'earlier'), 5, { exposureS: 120, startedAt: '2026-11-10T21:00:00' })
  writeRun(join(folder, 'few'), 2, { exposureS: 30, startedAt: '2026-11-10T23:00:00' })
  await engine.log([folder])
  const dark = await addMaster(engine, 'Dark', { exposureS: 300 })
  const close = await addMaster(engine, 'Dark', { exposureS: 120, tempC: -11.5 })
  const { needs, used, near, nights } = await engine.ask('coverage', {})
  expect(nights).toBe(2)
  expect(used).toEqual([dark])
  expect(near).toEqual([close])
  expect(
    needs.map(({ kind, verdict, settings, frames, tonight }) => [kind, settings.exposureS, verdict, frames, tonight]),
  ).toEqual([
    ['dark', 300, 'matched', 4, true],
    ['dark', 120, 'near', 5, false],
  ])
  expect(await engine.ask('masterNights', { id: dark })).toEqual({
    nights: [{ night: '2026-11-20', frames: 4, totalS: 1200 }],
  })
  expect((await engine.ask('masterNights', { id: close })).nights).toEqual([])
  await engine.ask('retireMaster', { id: dark })
  expect((await engine.ask('coverage', {})).needs[0]).toMatchObject({ verdict: 'due', counts: { due: 4 } })
})

test('a folder stands for the masters in it, and what its files lack comes back with what their names suggest', async () => {
  const engine = await freshEngine()
  const folder = freshFolder()
  writeFrame(folder, 'good.fits', { kind: 'Dark', target: null, seed: 5, more: [{ keyword: 'NCOMBINE', value: 20 }] })
  writeFrame(folder, 'master_gain100_bare.fits', { kind: 'Dark', gain: null, target: null, seed: 6 })
  writeFileSync(join(folder, 'broken.fits'), 'SIMPLE')
  const { added, refused } = await engine.ask('addMasters', { paths: [folder] })
  expect(added.map(({ path }) => basename(path))).toEqual(['good.fits'])
  expect(refused.map(({ path, lacks, suggests }) => [basename(path), lacks, suggests])).toEqual([
    ['broken.fits', [], undefined],
    ['master_gain100_bare.fits', ['gain'], { gain: '100' }],
  ])
  const empty = await engine.ask('addMasters', { paths: [freshFolder()] })
  expect(empty.refused[0].reason).toMatch(/^No FITS file is in this folder/)
})

test('a file that a page sent is copied to the masters, and waits where it lacks something', async () => {
  const engine = await freshEngine()
  const { incoming, path } = newIncoming(engine.dataDir, 'sent.fits')
  writeFileSync(path, frameBytes({ kind: 'Dark', gain: null, target: null }))
  const first = await engine.ask('addMasters', { incoming: [incoming] })
  expect(first.refused).toMatchObject([{ incoming, lacks: ['gain'] }])
  const second = await engine.ask('addMasters', { incoming: [incoming], answers: { gain: 100 } })
  expect(second.added[0].path).toBe(join(engine.dataDir, 'masters', 'sent.fits'))
  expect(readdirSync(join(engine.dataDir, 'incoming'))).toEqual([])
  const third = await engine.ask('addMasters', { incoming: [incoming] })
  expect(third.refused[0].reason).toMatch(/send it once more/)
})

test('one master alone can be verified, and its page brings figures and a picture of one made elsewhere', async () => {
  const engine = await freshEngine()
  const id = await addMaster(engine, 'Dark')
  const other = await addMaster(engine, 'Dark', { exposureS: 60 })
  writeFileSync((await engine.ask('master', { id: other })).master!.path, 'other bytes')
  expect(await engine.ask('verifyLibrary', { ids: [id] })).toEqual({ ok: 1, damaged: [] })
  expect((await engine.ask('verifyLibrary', { ids: [other] })).damaged).toHaveLength(1)
  expect(await ids(engine)).toEqual([id, other])
  expect((await engine.ask('master', { id: 99 })).master).toBeNull()
})
