import { expect, test } from 'vitest'
import { join } from 'node:path'
import type { Engine } from '../../../main/engine/open.ts'
import { freshEngine, StillClock } from '../engines.ts'
import { writeFrame, writeRun, type FrameSpec } from '../night-files.ts'
import { addMaster, captureFolder, lightRuns, verdictsBy } from './shelf.ts'

/** A rig with four lights through each filter from 21:00 on, by a clock that stands at 23:00. */
async function rigWith(filters: string[], spec: FrameSpec = {}) {
  const folder = captureFolder('refractor')
  filters.forEach((filter, i) =>
    writeRun(join(folder, filter), 4, { filter, seed: 20 * (i + 1), target: filter, ...spec }),
  )
  const clock = new StillClock()
  const engine = await freshEngine({ clock })
  await engine.log([folder])
  await engine.ask('setRig', { name: 'Refractor', folder })
  return { engine, folder, clock }
}

const epochOf = async (engine: Engine, id: number) =>
  (await engine.ask('library', {})).masters.find((master) => master.id === id)!.epoch

test('a train change turns matched flats into near ones, and taking it back brings them back', async () => {
  const { engine } = await rigWith(['Ha'])
  await addMaster(engine, 'Flat', { filter: 'Ha', exposureS: 4 })
  expect(await verdictsBy(engine, 'filter', 'flat')).toEqual({ Ha: 'matched' })
  const { change } = await engine.ask('logTrainChange', { text: 'Camera turned', at: '2026-11-20T20:30:00Z' })
  expect(change).toMatchObject({ id: 1, rig: 'Refractor', scope: 'train', epoch: 'Refractor/1', losing: [] })
  expect(await verdictsBy(engine, 'filter', 'flat')).toEqual({ Ha: 'near' })
  const { change: undone } = await engine.ask('undoTrainChange', { id: 1 })
  expect(undone).toMatchObject({ undoneAt: '2026-11-20T23:00:00.000Z', epoch: null })
  expect(await verdictsBy(engine, 'filter', 'flat')).toEqual({ Ha: 'matched' })
  await expect(engine.ask('undoTrainChange', { id: 1 })).rejects.toThrow(/taken back already/)
  await expect(engine.ask('undoTrainChange', { id: 7 })).rejects.toThrow(/no train change 7/)
  expect((await engine.ask('trainChanges', {})).changes).toHaveLength(1)
})

test('a change after the lights leaves them the flats of before', async () => {
  const { engine } = await rigWith(['Ha'])
  await addMaster(engine, 'Flat', { filter: 'Ha', exposureS: 4 })
  await engine.ask('logTrainChange', { text: 'Camera turned', at: '2026-11-20T22:30:00Z' })
  expect(await verdictsBy(engine, 'filter', 'flat')).toEqual({ Ha: 'matched' })
})

test('a change of one filter touches only its flats', async () => {
  const { engine } = await rigWith(['Ha', 'OIII'])
  await addMaster(engine, 'Flat', { filter: 'Ha', exposureS: 4 })
  await addMaster(engine, 'Flat', { filter: 'OIII', exposureS: 4 })
  const at = '2026-11-20T20:30:00Z'
  await engine.ask('logTrainChange', { text: 'Filter cleaned', scope: 'filter', filter: 'ha', at })
  expect(await verdictsBy(engine, 'filter', 'flat')).toEqual({ Ha: 'near', OIII: 'matched' })
})

test('the epoch of a flat on the shelf follows the log', async () => {
  const { engine, folder } = await rigWith(['Ha'])
  // A master that stands in the rig's own folder is of that rig.
  const path = writeFrame(folder, 'master-flat.fits', {
    kind: 'Flat',
    startedAt: '2026-11-20T22:00:00',
    seed: 5,
    more: [
      { keyword: 'NCOMBINE', value: 25 },
      { keyword: 'BUNIT', value: 'ADU' },
    ],
  })
  const { added } = await engine.ask('addMasters', { paths: [path], answers: { subtracted: 'none' } })
  expect(added[0].epoch).toBe('Refractor/0')
  await engine.ask('logTrainChange', { text: 'Camera turned', at: '2026-11-20T21:55:00Z' })
  expect(await epochOf(engine, added[0].id)).toBe('Refractor/1')
  await engine.ask('undoTrainChange', { id: 1 })
  expect(await epochOf(engine, added[0].id)).toBe('Refractor/0')
})

test('a change says which flats the lights before it still need, of that filter alone', async () => {
  const { engine } = await rigWith(['Ha', 'OIII'])
  const { change } = await engine.ask('logTrainChange', { text: 'Cleaned', scope: 'filter', filter: 'Ha' })
  expect(change.losing).toMatchObject([{ kind: 'flat', settings: { filter: 'Ha' }, count: 25, lights: 4 }])
  const { change: earlier } = await engine.ask('logTrainChange', {
    text: 'Before any light',
    at: '2026-11-20T20:00:00Z',
  })
  expect(earlier.losing).toEqual([])
})

test('taking it apart looks first, names what is lost, and then it is lost', async () => {
  const { engine, clock } = await rigWith(['Ha', 'OIII'])
  await addMaster(engine, 'Flat', { filter: 'Ha', exposureS: 4 })
  const look = await engine.ask('takeApart', {})
  expect(look).toMatchObject({ rig: 'Refractor', change: null })
  const flats = look.losing.filter((row) => row.kind === 'flat')
  expect(flats).toMatchObject([{ settings: { filter: 'OIII' }, lights: 4, lightS: 1200, urgency: 'actNow' }])
  expect(look.notices.map((notice) => notice.rule)).toContain('no-flat')
  expect((await engine.ask('trainChanges', {})).changes).toEqual([])
  expect(await verdictsBy(engine, 'filter', 'flat')).toEqual({ Ha: 'matched', OIII: 'due' })

  const closed = await engine.ask('takeApart', { confirm: true })
  expect(closed.losing).toEqual(look.losing)
  expect(closed.change).toMatchObject({
    closes: true,
    scope: 'train',
    at: '2026-11-20T23:00:00.000Z',
    losing: look.losing,
  })
  expect(await verdictsBy(engine, 'filter', 'flat')).toEqual({ Ha: 'matched', OIII: 'lost' })
  expect((await engine.ask('tonight', {})).notices.map((notice) => notice.rule)).toContain('flat-lost')
  clock.at = new Date('2026-11-20T23:10:00Z')
  expect((await engine.ask('takeApart', {})).losing).toEqual([])

  await engine.ask('undoTrainChange', { id: closed.change!.id })
  expect(await verdictsBy(engine, 'filter', 'flat')).toEqual({ Ha: 'matched', OIII: 'due' })
})

test('the last look sees the lights of earlier nights of the same epoch', async () => {
  const { engine, folder, clock } = await rigWith(['Ha'])
  writeRun(join(folder, 'next'), 3, { filter: 'Ha', seed: 60 })
  for (let i = 0; i < 3; i++)
    writeFrame(folder, `next_${i}.fits`, { filter: 'Ha', startedAt: `2026-11-21T21:0${i * 3}:00`, seed: 70 + i })
  clock.at = new Date('2026-11-22T05:00:00Z')
  await engine.log([folder])
  const { losing } = await engine.ask('takeApart', {})
  expect(losing.filter((row) => row.kind === 'flat')).toMatchObject([{ settings: { filter: 'Ha' }, lights: 10 }])
})

test('a rig must be said where there are several, and is found whatever its case', async () => {
  const { engine } = await rigWith(['Ha'])
  await engine.ask('watchFolder', { path: captureFolder('newtonian') })
  await expect(engine.ask('logTrainChange', { text: 'x' })).rejects.toThrow(
    /Say which rig: there are Refractor and newtonian/,
  )
  await expect(engine.ask('logTrainChange', { text: 'x', rig: 'other' })).rejects.toThrow(/There is no rig "other"/)
  const { change } = await engine.ask('logTrainChange', { text: 'x', rig: 'REFRACTOR' })
  expect(change.rig).toBe('Refractor')
  const ahead = engine.ask('logTrainChange', { text: 'x', rig: 'Refractor', at: '2026-12-01T00:00:00Z' })
  await expect(ahead).rejects.toThrow(/lies ahead/)
  const nameless = engine.ask('logTrainChange', { text: 'x', rig: 'Refractor', scope: 'filter' })
  await expect(nameless).rejects.toThrow(/Say which filter/)
  const odd = engine.ask('logTrainChange', { text: 'x', rig: 'Refractor', filter: 'Ha' })
  await expect(odd).rejects.toThrow(/scope filter/)
})

const angle = (value: number) => [{ keyword: 'OBJCTROT', value }]
const focal = (value: number) => [{ keyword: 'FOCALLEN', value }]

test('a mount flip changes nothing', async () => {
  const folder = captureFolder('refractor')
  for (let i = 0; i < 12; i++)
    writeFrame(folder, `light_${i}.fits`, {
      startedAt: new Date(Date.parse('2026-11-20T21:00:00Z') + i * 305_000).toISOString().slice(0, 19),
      seed: i + 1,
      more: angle(i < 6 ? 12.3 : 192.3),
    })
  const engine = await freshEngine()
  await engine.log([folder])
  await engine.ask('setRig', { name: 'Refractor', folder })
  await addMaster(engine, 'Flat', { filter: 'Ha', exposureS: 4 })
  expect((await engine.ask('suggestedChanges', {})).suggestions).toEqual([])
  expect((await engine.ask('trainChanges', {})).changes).toEqual([])
  expect(await verdictsBy(engine, 'filter', 'flat')).toEqual({ Ha: 'matched' })
  expect(await lightRuns(engine)).toHaveLength(1)
})

async function rigWithReducer() {
  const folder = captureFolder('refractor')
  writeRun(join(folder, 'a'), 3, { more: focal(480) })
  for (let i = 0; i < 3; i++)
    writeFrame(folder, `b_${i}.fits`, { startedAt: `2026-11-20T22:0${i}:00`, seed: 90 + i, more: focal(384) })
  const engine = await freshEngine()
  await engine.log([folder])
  await engine.ask('setRig', { name: 'Refractor', folder })
  return engine
}

test('another focal length in the headers is suggested as a change, never applied; it is logged when confirmed', async () => {
  const engine = await rigWithReducer()
  const { suggestions } = await engine.ask('suggestedChanges', {})
  expect(suggestions).toMatchObject([{ rig: 'Refractor', scope: 'train', field: 'focalMm', before: 480, after: 384 }])
  expect((await engine.ask('trainChanges', {})).changes).toEqual([])
  const { change } = await engine.ask('confirmChange', { id: suggestions[0].id })
  expect(change).toMatchObject({ at: '2026-11-20T22:00:00.000Z', epoch: 'Refractor/1' })
  expect(change.losing.map((row) => row.lights)).toContain(3)
  expect((await engine.ask('suggestedChanges', {})).suggestions).toEqual([])
})

test('a suggestion that is dismissed is not offered again', async () => {
  const engine = await rigWithReducer()
  const [{ id }] = (await engine.ask('suggestedChanges', {})).suggestions
  await engine.ask('dismissChange', { id })
  expect((await engine.ask('suggestedChanges', {})).suggestions).toEqual([])
  expect((await engine.ask('trainChanges', {})).changes).toEqual([])
  await expect(engine.ask('confirmChange', { id })).rejects.toThrow(/not suggested any more/)
})
