import { mkdirSync, rmSync, writeFileSync } from 'node:fs'
import { join } from 'node:path'
import { expect, test } from 'vitest'
import { putRigSpan } from '../../../db/tables/rigs.ts'
import { openEngine } from '../../../main/engine/open.ts'
import { noteAffected } from '../../../main/engine/rigs/describe-again.ts'
import { freshEngine, listenTo, StillClock } from '../engines.ts'
import { writeFrame, writeRun } from '../night-files.ts'
import { addMaster, captureFolder, lightRuns, verdictsBy } from './shelf.ts'

const nightOf = async (engine: Awaited<ReturnType<typeof freshEngine>>) =>
  (await lightRuns(engine)).map(({ rig, filter, train, frames }) => ({ rig, filter, train, frames }))

test('a watched folder is enough to make a rig, and what was logged from it before belongs to it', async () => {
  const folder = captureFolder('refractor')
  writeRun(folder, 3)
  const engine = await freshEngine()
  await engine.log([folder])
  expect(await nightOf(engine)).toMatchObject([{ rig: null, frames: 3 }])
  expect((await engine.ask('rigs', {})).rigs).toEqual([])
  const { folder: watched } = await engine.ask('watchFolder', { path: folder })
  expect(watched).toMatchObject({ rig: 'refractor', frames: 3 })
  expect((await engine.ask('rigs', {})).rigs).toMatchObject([
    { name: 'refractor', folder, since: null, filter: null, frames: 3, epoch: 'refractor/0', epochSince: null },
  ])
  expect(await nightOf(engine)).toMatchObject([{ rig: 'refractor', frames: 3 }])
  await engine.ask('watchFolder', { path: folder })
  expect((await engine.ask('rigs', {})).rigs).toHaveLength(1)
})

test('a folder of the same name gets a rig of another name', async () => {
  const engine = await freshEngine()
  for (const folder of [captureFolder('capture'), captureFolder('capture')])
    await engine.ask('watchFolder', { path: folder })
  expect((await engine.ask('rigs', {})).rigs.map((rig) => rig.name)).toEqual(['capture', 'capture 2'])
})

test('two rigs with the same camera model keep their darks apart by the bodies that were named', async () => {
  const [left, right] = [captureFolder('left'), captureFolder('right')]
  writeRun(left, 3)
  writeRun(right, 3, { seed: 50, target: 'Field 8' })
  const engine = await freshEngine()
  await engine.log([left, right])
  await engine.ask('setRig', { name: 'Left', folder: left, body: 'A' })
  await engine.ask('setRig', { name: 'Right', folder: right, body: 'B' })
  await addMaster(engine, 'Dark', { more: [{ keyword: 'SERIALNO', value: 'A' }] })
  expect(await verdictsBy(engine, 'rig', 'dark')).toEqual({ Left: 'matched', Right: 'due' })
  await addMaster(engine, 'Dark', { more: [{ keyword: 'SERIALNO', value: 'B' }] })
  expect(await verdictsBy(engine, 'rig', 'dark')).toEqual({ Left: 'matched', Right: 'matched' })
})

test('two cameras in one folder are two rigs, each with a filter of its own', async () => {
  const folder = captureFolder('both')
  writeRun(folder, 3, { camera: 'Testcam 26', filter: null })
  writeRun(join(folder, 'second'), 3, { camera: 'Testcam 9', filter: null, seed: 40, target: 'Field 8' })
  const engine = await freshEngine()
  await engine.log([folder])
  await engine.ask('setRig', { name: 'Long', folder, camera: 'Testcam 26', filter: 'Ha' })
  await engine.ask('setRig', { name: 'Wide', folder, camera: 'testcam 9', filter: 'OIII' })
  expect(new Set((await nightOf(engine)).map(({ rig, filter }) => `${rig}: ${filter}`))).toEqual(
    new Set(['Long: Ha', 'Wide: OIII']),
  )
  await expect(engine.ask('setRig', { name: 'Third', folder })).rejects.toThrow(/is the folder of rig "(Long|Wide)"/)
})

test('a filter in the drawer counts where the header names none; changed, it holds from then on', async () => {
  const folder = captureFolder('drawer')
  writeRun(folder, 4, { filter: null })
  const clock = new StillClock()
  const engine = await freshEngine({ clock })
  await engine.log([folder])
  await engine.ask('setRig', { name: 'Drawer', folder })
  clock.at = new Date('2026-11-20T21:30:00Z')
  const first = await engine.ask('setRig', { name: 'drawer', filter: 'Dual-band' })
  expect(first).toMatchObject({
    frames: 4,
    rig: { name: 'Drawer', filter: 'Dual-band', since: null, filterByHand: true },
  })
  clock.at = new Date('2026-11-20T21:31:00Z')
  await engine.ask('setRig', { name: 'Drawer', filter: 'SII' })
  clock.at = new Date('2026-11-20T23:00:00Z')
  writeRun(join(folder, 'later'), 3, { filter: null, startedAt: '2026-11-20T22:00:00', target: 'Field 9' })
  await engine.log([folder])
  const filters = async () => (await nightOf(engine)).map(({ filter, frames }) => ({ filter, frames }))
  expect(await filters()).toEqual([
    { filter: 'Dual-band', frames: 4 },
    { filter: 'SII', frames: 3 },
  ])
  const moved = await engine.ask('setRig', { name: 'Drawer', filter: 'SII', since: '2026-11-20T21:08:00Z' })
  expect(moved.frames).toBe(2)
  expect(moved.rig.spans.map((span) => [span.since, span.filter])).toEqual([
    [null, 'Dual-band'],
    ['2026-11-20T21:08:00.000Z', 'SII'],
  ])
  const forgotten = await engine.ask('setRig', { name: 'Drawer', filter: null, since: '2026-11-20T21:08:00Z' })
  expect(forgotten.rig.filter).toBeNull()
})

test('naming a rig touches no file: the folder may be away', async () => {
  const folder = captureFolder('away')
  writeRun(folder, 3, { filter: null })
  const engine = await freshEngine()
  await engine.log([folder])
  await engine.ask('setRig', { name: 'Away', folder })
  rmSync(folder, { recursive: true })
  const { frames } = await engine.ask('setRig', { name: 'Away', filter: 'Ha', train: 'Refractor 480' })
  expect(frames).toBe(3)
  expect(await nightOf(engine)).toMatchObject([{ filter: 'Ha', train: 'Refractor 480', frames: 3 }])
})

test('listeners hear when a rig is told otherwise, and verdicts follow', async () => {
  const folder = captureFolder('told')
  writeRun(folder, 3, { filter: null })
  const engine = await freshEngine()
  const told = listenTo(engine)
  await engine.log([folder])
  await addMaster(engine, 'Flat', { filter: 'Ha' })
  await engine.ask('setRig', { name: 'Told', folder })
  expect(await verdictsBy(engine, 'rig', 'flat')).toEqual({ Told: 'unconfirmed' })
  told.events.length = 0
  await engine.ask('setRig', { name: 'Told', filter: 'Ha' })
  expect(await verdictsBy(engine, 'rig', 'flat')).toEqual({ Told: 'matched' })
  await told.until(() => told.of('changed').some(({ what }) => what.includes('night') && what.includes('settings')))
})

test('a program that was killed while it described frames again finishes it at its next start', async () => {
  const folder = captureFolder('killed')
  writeRun(folder, 3, { filter: null })
  const first = await freshEngine()
  await first.log([folder])
  const span = { rig: 'Killed', since: '2020-01-01T00:00:00.000Z', folder, filter: 'Ha' }
  putRigSpan(first.db, {
    ...span,
    camera: null,
    body: null,
    train: null,
    siteName: null,
    siteLatDeg: null,
    siteLongDeg: null,
  })
  noteAffected(first.db, [folder])
  expect(await nightOf(first)).toMatchObject([{ rig: null }])
  const next = await openEngine({ dataDir: first.dataDir, clock: new StillClock(), zone: 'UTC' })
  expect(await nightOf(next)).toMatchObject([{ rig: 'Killed', filter: 'Ha' }])
  await next.close()
})

test('a rig that is renamed keeps its frames, its changes and its flats', async () => {
  const folder = captureFolder('old')
  writeRun(folder, 3)
  const engine = await freshEngine()
  await engine.log([folder])
  await engine.ask('setRig', { name: 'Old', folder })
  await engine.ask('logTrainChange', { text: 'Cleaned', at: '2026-11-20T20:00:00Z' })
  const { rig } = await engine.ask('renameRig', { name: 'old', to: 'New' })
  expect(rig).toMatchObject({ name: 'New', frames: 3, epoch: 'New/1', epochSince: '2026-11-20T20:00:00.000Z' })
  expect(await nightOf(engine)).toMatchObject([{ rig: 'New' }])
  const { frames } = await engine.ask('removeRig', { name: 'New' })
  expect(frames).toBe(3)
  expect(await nightOf(engine)).toMatchObject([{ rig: null }])
})

test('what cannot be meant is refused in a sentence, and changes nothing', async () => {
  const folder = captureFolder('rig')
  const engine = await freshEngine()
  writeFileSync(join(folder, 'file.txt'), '')
  const bad: [Parameters<typeof engine.ask<'setRig'>>[1], RegExp][] = [
    [{ name: 'R' }, /Say which folder/],
    [{ name: '  ', folder }, /A rig needs a name/],
    [{ name: 'R', folder: join(folder, 'nowhere') }, /does not exist/],
    [{ name: 'R', folder: join(folder, 'file.txt') }, /is a file/],
    [{ name: 'R', folder, site: { name: null, latDeg: 95, longDeg: 0 } }, /latitude lies between/],
    [{ name: 'R', folder, since: '2027-01-01T00:00:00Z' }, /lies ahead/],
    [{ name: 'R', folder, since: 'yesterday' }, /A moment is written like/],
    [{ name: 'R', folder, filter: ' ' }, /Say what it is called/],
  ]
  for (const [asked, sentence] of bad) await expect(engine.ask('setRig', asked)).rejects.toThrow(sentence)
  await expect(engine.ask('logTrainChange', { text: 'x' })).rejects.toThrow(/There is no rig yet/)
  await expect(engine.ask('renameRig', { name: 'A', to: 'B' })).rejects.toThrow(/There is no rig yet/)
  expect((await engine.ask('rigs', {})).rigs).toEqual([])
})

test('frames are set aside by hand and come back, whatever is understood anew meanwhile', async () => {
  const folder = captureFolder('hand')
  writeRun(folder, 5, { filter: null })
  const focus = writeFrame(folder, 'focus_1.fits', { filter: null, startedAt: '2026-11-20T22:30:00', seed: 9 })
  const engine = await freshEngine()
  await engine.log([folder])
  const [run] = (await lightRuns(engine)).filter((one) => !one.aside)
  const { frames } = await engine.ask('setAside', { frames: run.frameIds.slice(0, 2) })
  expect(frames).toBe(2)
  await engine.ask('setRig', { name: 'Hand', folder, filter: 'Ha' })
  const { frame } = await engine.ask('frame', { id: run.frameIds[0] })
  expect(frame).toMatchObject({ aside: true, asideWhy: 'by hand', filter: 'Ha' })
  const counts = async () =>
    Object.fromEntries(
      Object.entries(Object.groupBy(await lightRuns(engine), (one) => String(one.aside))).map(([aside, runs]) => [
        aside,
        runs!.reduce((sum, one) => sum + one.frames, 0),
      ]),
    )
  expect(await counts()).toEqual({ true: 3, false: 3 })
  const all = (await lightRuns(engine)).flatMap((one) => one.frameIds)
  const out: number[] = []
  for (const id of all) if ((await engine.ask('frame', { id })).frame.path === focus) out.push(id)
  await engine.ask('unsetAside', { frames: [...run.frameIds.slice(0, 2), ...out] })
  expect(await counts()).toEqual({ false: 6 })
  await expect(engine.ask('setAside', { frames: [9999] })).rejects.toThrow(/There is no frame 9999/)
  await expect(engine.ask('setAside', { frames: [] })).rejects.toThrow(/Say which frames/)
})

test('frames set aside with a word say it, stay in the list of their run, and are taken back in one step', async () => {
  const folder = captureFolder('why')
  writeRun(folder, 5)
  const engine = await freshEngine()
  await engine.log([folder])
  const listed = async () =>
    (await engine.ask('run', { frame: 3 })).frames.map(({ id, aside, asideWhy }) => [id, aside, asideWhy])
  const before = await listed()
  expect(before.map(([, aside]) => aside)).toEqual([false, false, false, false, false])
  await engine.ask('setKind', { frames: [4], kind: 'dark' })
  await engine.ask('setKind', { frames: [4], kind: null })
  const { frames, step } = await engine.ask('setAside', { frames: [1, 2], why: 'culled' })
  expect(frames).toBe(2)
  expect((await engine.ask('frame', { id: 2 })).frame).toMatchObject({ aside: true, asideWhy: 'culled' })
  expect((await listed()).filter(([, aside]) => aside).map(([, , why]) => why)).toEqual(['culled', 'culled'])
  expect((await engine.ask('run', { frame: 1 })).frames).toHaveLength(5)
  const [newest] = (await engine.ask('undoSteps', {})).steps
  expect(newest).toMatchObject({ id: step, text: '2 frames were set aside: culled.', of: 'frame' })
  await engine.ask('undo', { id: step! })
  expect(await listed()).toEqual(before)
  expect((await engine.ask('setAside', { frames: [1], why: 'focus' })).step).not.toBe(step)
  expect((await engine.ask('unsetAside', { frames: [1] })).frames).toBe(1)
  await engine.ask('undo', {})
  expect((await engine.ask('frame', { id: 1 })).frame.asideWhy).toBe('focus')
  await expect(engine.ask('run', { frame: 99 })).rejects.toThrow(/There is no frame 99/)
})

test('a set of two lights that are left of a run needs nothing', async () => {
  const folder = captureFolder('few')
  writeRun(folder, 3)
  const engine = await freshEngine()
  await engine.log([folder])
  expect((await engine.ask('tonight', {})).shortfall.length).toBeGreaterThan(0)
  await engine.ask('setAside', { frames: [1] })
  expect((await engine.ask('tonight', {})).shortfall).toEqual([])
})

test("a kind told by hand holds against the header's, also when the file is written again, until it is taken back", async () => {
  const folder = captureFolder('kind')
  const path = writeFrame(folder, 'a.fits', { kind: 'Dark', exposureS: 5, filter: null })
  const engine = await freshEngine()
  await engine.log([folder])
  await engine.ask('setKind', { frames: [1], kind: 'darkFlat' })
  expect((await engine.ask('frame', { id: 1 })).frame).toMatchObject({ kind: 'darkFlat', kindFrom: 'user' })
  writeFrame(folder, 'a.fits', { kind: 'Dark', exposureS: 6, filter: null, seed: 4 })
  await engine.log([path])
  expect((await engine.ask('frame', { id: 1 })).frame).toMatchObject({ kind: 'darkFlat', exposureS: 6 })
  await engine.ask('setKind', { frames: [1], kind: null })
  expect((await engine.ask('frame', { id: 1 })).frame).toMatchObject({ kind: 'dark', kindFrom: 'header' })
})

test('a camera that is gone makes its darks missing; back, they are due again', async () => {
  const folder = captureFolder('gone')
  writeRun(folder, 3)
  const engine = await freshEngine()
  await engine.log([folder])
  await engine.ask('setRig', { name: 'Gone', folder, body: 'A' })
  expect(await verdictsBy(engine, 'rig', 'dark')).toEqual({ Gone: 'due' })
  const { camera } = await engine.ask('markCameraGone', { camera: 'testcam 26', body: 'a' })
  expect(camera.bodies).toEqual([{ body: 'A', goneAt: '2026-11-20T23:00:00.000Z' }])
  expect(await verdictsBy(engine, 'rig', 'dark')).toEqual({ Gone: 'missing' })
  await engine.ask('cameraBack', { camera: 'Testcam 26', body: 'A' })
  expect(await verdictsBy(engine, 'rig', 'dark')).toEqual({ Gone: 'due' })
  await engine.ask('setCameraClass', { camera: 'Testcam 26', class: 'quiet' })
  expect((await engine.ask('cameras', {})).cameras).toMatchObject([
    { camera: 'Testcam 26', class: 'quiet', goneAt: null },
  ])
  await expect(engine.ask('markCameraGone', { camera: 'Nobody' })).rejects.toThrow(/camera "Nobody"/)
  await expect(engine.ask('markCameraGone', { camera: 'Testcam 26', body: 'Z' })).rejects.toThrow(/No body "Z"/)
})

test('a folder below the folder of another rig has a rig of its own', async () => {
  const outer = captureFolder('outer')
  const inner = join(outer, 'inner')
  mkdirSync(inner)
  writeRun(inner, 3)
  const engine = await freshEngine()
  await engine.ask('watchFolder', { path: outer })
  await engine.log([outer])
  expect(await nightOf(engine)).toMatchObject([{ rig: 'outer' }])
  await engine.ask('watchFolder', { path: inner })
  expect(await nightOf(engine)).toMatchObject([{ rig: 'inner' }])
})
