import { existsSync } from 'node:fs'
import { expect, test } from 'vitest'
import { freshEngine, StillClock } from './engines.ts'
import { freshFolder, writeFrame, writeRun } from './night-files.ts'
import { addMaster, captureFolder, lightRuns, verdictsBy } from './rigs/shelf.ts'

async function engineWithDark() {
  const folder = captureFolder('night')
  writeRun(folder, 3, { filter: null })
  const clock = new StillClock()
  const engine = await freshEngine({ clock })
  await engine.log([folder])
  const id = await addMaster(engine, 'Dark')
  return { engine, folder, clock, id }
}

const dark = async (engine: Awaited<ReturnType<typeof freshEngine>>) =>
  Object.values(await verdictsBy(engine, 'target', 'dark'))[0]

test('retiring, restoring and taking in can each be taken back, newest first', async () => {
  const { engine, id } = await engineWithDark()
  await engine.ask('retireMaster', { id })
  expect(await dark(engine)).toBe('due')
  const { step } = await engine.ask('undo', {})
  expect(step).toMatchObject({ text: `Master ${id} was retired.`, undoneAt: '2026-11-20T23:00:00.000Z' })
  expect(await dark(engine)).toBe('matched')

  await engine.ask('retireMaster', { id })
  await engine.ask('restoreMaster', { id })
  expect((await engine.ask('undo', {})).step.text).toBe(`Master ${id} was restored.`)
  expect(await dark(engine)).toBe('due')
  await engine.ask('undo', {})
  expect(await dark(engine)).toBe('matched')

  const [{ path }] = (await engine.ask('library', {})).masters
  expect((await engine.ask('undo', {})).step.text).toMatch(/was taken in: master-dark\.fits/)
  expect((await engine.ask('library', {})).masters).toEqual([])
  expect(await dark(engine)).toBe('due')
  expect(existsSync(path)).toBe(true)
  expect((await engine.ask('addMasters', { paths: [path] })).added).toHaveLength(1)
  expect(await dark(engine)).toBe('matched')
})

test('a step can be taken back by its number, once', async () => {
  const { engine, id } = await engineWithDark()
  const [taken] = (await engine.ask('undoSteps', {})).steps
  await engine.ask('retireMaster', { id })
  await expect(engine.ask('undo', { id: 999 })).rejects.toThrow(/no step 999/)
  await engine.ask('undo', { id: taken.id })
  expect((await engine.ask('library', {})).masters).toEqual([])
  await expect(engine.ask('undo', { id: taken.id })).rejects.toThrow(/taken back already/)
  await expect(engine.ask('undo', {})).rejects.toThrow(`Master ${id} is not in the library any more.`)
})

test('what is refused changes nothing and stays on the list', async () => {
  const { engine, id } = await engineWithDark()
  await engine.ask('retireMaster', { id })
  await engine.ask('undo', { id: (await engine.ask('undoSteps', {})).steps.at(-1)!.id })
  await expect(engine.ask('undo', {})).rejects.toThrow()
  expect((await engine.ask('undoSteps', {})).steps[0].undoneAt).toBeNull()
})

test('a rig that was made, told, renamed or removed is as it was, and so are its frames', async () => {
  const { engine, folder } = await engineWithDark()
  const rig = async () => (await lightRuns(engine)).map((run) => [run.rig, run.filter])
  await engine.ask('setRig', { name: 'R', folder })
  await engine.ask('setRig', { name: 'R', filter: 'Ha' })
  await engine.ask('renameRig', { name: 'R', to: 'S' })
  await engine.ask('removeRig', { name: 'S' })
  expect(await rig()).toEqual([[null, null]])
  await engine.ask('undo', {})
  expect(await rig()).toEqual([['S', 'Ha']])
  await engine.ask('undo', {})
  expect(await rig()).toEqual([['R', 'Ha']])
  await engine.ask('undo', {})
  expect(await rig()).toEqual([['R', null]])
  await engine.ask('undo', {})
  expect(await rig()).toEqual([[null, null]])
  expect((await engine.ask('rigs', {})).rigs).toEqual([])
})

test('a train change that was logged or taken back can be taken back, or hold again', async () => {
  const { engine, folder } = await engineWithDark()
  await engine.ask('setRig', { name: 'R', folder, filter: 'Ha' })
  await addMaster(engine, 'Flat', { filter: 'Ha' })
  const flat = async () => Object.values(await verdictsBy(engine, 'target', 'flat'))[0]
  await engine.ask('logTrainChange', { text: 'Turned', at: '2026-11-20T20:30:00Z' })
  expect(await flat()).toBe('near')
  await engine.ask('undo', {})
  expect(await flat()).toBe('matched')
  await engine.ask('logTrainChange', { text: 'Turned', at: '2026-11-20T20:30:00Z' })
  await engine.ask('undoTrainChange', { id: 2 })
  expect(await flat()).toBe('matched')
  await engine.ask('undo', {})
  expect(await flat()).toBe('near')
})

test('after 30 days nothing can be taken back any more', async () => {
  const { engine, clock } = await engineWithDark()
  expect((await engine.ask('undoSteps', {})).steps).toHaveLength(1)
  clock.at = new Date('2026-12-21T00:00:00Z')
  expect((await engine.ask('undoSteps', {})).steps).toEqual([])
  await expect(engine.ask('undo', {})).rejects.toThrow('There is nothing to take back.')
})

test('what was told about a master can be taken back', async () => {
  const { engine, id } = await engineWithDark()
  const path = writeFrame(freshFolder(), 'bare.fits', { kind: 'Dark', exposureS: 60, target: null, seed: 91 })
  const [bare] = (await engine.ask('addMasters', { paths: [path] })).added
  expect(bare.scale).toBeNull()
  await engine.ask('addMasters', { paths: [path], answers: { scale: 'adu', subtracted: 'none', frames: 30 } })
  const { step } = await engine.ask('undo', {})
  expect(step).toMatchObject({ text: `Master ${bare.id} was told more about: bare.fits`, of: 'library' })
  expect((await engine.ask('master', { id: bare.id })).master).toMatchObject({
    scale: null,
    subtracted: null,
    frames: null,
  })
  expect(bare.id).toBeGreaterThan(id)
})

test('an id that was taken back is not given to the next master', async () => {
  const { engine, id } = await engineWithDark()
  await engine.ask('undo', {})
  expect(await addMaster(engine, 'Dark', { exposureS: 60 })).toBeGreaterThan(id)
})
