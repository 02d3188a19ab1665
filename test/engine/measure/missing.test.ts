import { existsSync, renameSync, rmSync } from 'node:fs'
import { join } from 'node:path'
import { expect, onTestFinished, test } from 'vitest'
import { measuredOf } from '../../../db/tables/frame-figures.ts'
import { nightToMeasure, unmeasuredOfNight } from '../../../db/tables/frames.ts'
import { Missing } from '../../../main/engine/measure/missing.ts'
import { SecondLane } from '../../../main/engine/measure/second-lane.ts'
import { openEngine, type Engine } from '../../../main/engine/open.ts'
import { freshEngine, StillClock } from '../engines.ts'
import { freshFolder, writeFrame, writeRun } from '../night-files.ts'

/** A second lane that looks every tenth of a second for what it missed. */
function laneOf(engine: Engine, { isOutOfReach = (_: string): boolean => false } = {}) {
  const told: number[] = []
  const core = {
    db: engine.db,
    dataDir: freshFolder(),
    clock: new StillClock(),
    closing: new AbortController().signal,
    isOutOfReach,
    changed: () => told.push(performance.now()),
    tell: () => {},
  }
  const lane = new SecondLane(core as never, new Missing(100))
  onTestFinished(() => lane.close())
  return { lane, told }
}
const night = '2026-11-20'

test('frames whose folder is away wait, without a write to the log, and are measured when it is back', async () => {
  const base = freshFolder()
  const [folder, elsewhere] = [join(base, 'card', 'frames'), join(base, 'elsewhere')]
  const paths = writeRun(folder, 60)
  const engine = await freshEngine()
  await engine.log([folder])
  renameSync(join(base, 'card'), elsewhere)
  const { lane, told } = laneOf(engine)
  const writes = engine.db.prepare('SELECT total_changes()').pluck()
  const before = writes.get()
  lane.wake()
  await expect.poll(() => lane.missing.has(paths[0])).toBe(true)
  expect(lane.missing.has(folder)).toBe(true)
  expect(lane.missing.has(base)).toBe(false)
  await new Promise((resolve) => setTimeout(resolve, 400))
  expect(unmeasuredOfNight(engine.db, night)).toBe(60)
  expect(writes.get()).toBe(before)
  expect(told.length).toBeLessThanOrEqual(2)

  renameSync(elsewhere, join(base, 'card'))
  await expect.poll(() => unmeasuredOfNight(engine.db, night), { timeout: 20_000 }).toBe(0)
  expect(lane.missing.has(paths[0])).toBe(false)
  for (const id of [1, 60]) expect(measuredOf(engine.db, id)).toMatchObject({ problem: null })
})

test('a file that is away alone waits for itself; one that cannot be measured is given up, and told why', async () => {
  const folder = freshFolder()
  const [first, second] = writeRun(folder, 2)
  const engine = await freshEngine()
  await engine.log([folder])
  renameSync(first, `${first}.kept`)
  rmSync(second)
  writeFrame(second, 'a-folder-in-its-place.fits')
  const { lane } = laneOf(engine)
  lane.wake()
  await expect.poll(() => measuredOf(engine.db, 2)?.problem, { timeout: 20_000 }).toContain('folder')
  expect(lane.missing.has(second)).toBe(false)
  expect(measuredOf(engine.db, 1)).toBeUndefined()
  renameSync(`${first}.kept`, first)
  await expect.poll(() => measuredOf(engine.db, 1), { timeout: 20_000 }).toMatchObject({ problem: null })
})

test('however many newer frames are out of reach, older ones in reach are measured, and those later', async () => {
  const base = freshFolder()
  const [near, far] = [join(base, 'near'), join(base, 'far')]
  writeFrame(near, 'old.fits', { startedAt: '2026-10-01T22:00:00', seed: 900 })
  writeFrame(near, 'same-night.fits', { seed: 901 })
  for (let i = 0; i < 300; i++) writeFrame(far, `${i}.fits`, { seed: i })
  const engine = await freshEngine()
  // In this order the frames in reach have the lowest ids.
  for (const dir of [near, far]) await engine.log([dir])
  let away = true
  const { lane } = laneOf(engine, { isOutOfReach: (path) => away && path.startsWith(far) })
  lane.wake()
  await expect.poll(() => nightToMeasure(engine.db, night), { timeout: 20_000 }).toBe(null)
  expect(unmeasuredOfNight(engine.db, night)).toBe(300)
  away = false
  // What landed in another night does not have this one looked through again; a folder that is back does.
  lane.landed([{ night: '2026-10-01', path: join(near, 'old.fits') }])
  await new Promise((resolve) => setTimeout(resolve, 300))
  expect(unmeasuredOfNight(engine.db, night)).toBe(300)
  lane.wake()
  await expect.poll(() => unmeasuredOfNight(engine.db, night), { timeout: 30_000 }).toBe(0)
}, 60_000)

test('a night whose files are away says so, and waits for no figures', async () => {
  const folder = join(freshFolder(), 'frames')
  writeRun(folder, 3)
  const dataDir = join(freshFolder(), 'data')
  const before = await openEngine({ dataDir, clock: new StillClock(), zone: 'UTC' })
  await before.log([folder])
  await before.close()
  renameSync(folder, `${folder}-away`)
  expect(existsSync(folder)).toBe(false)

  const engine = await freshEngine({ live: true, dataDir })
  const state = async (id: number) => (await engine.ask('frame', { id })).frame.state
  await expect.poll(() => state(1), { timeout: 10_000 }).toBe('out of reach')
  await expect.poll(async () => (await engine.ask('tonight', {})).figuresPending).toBe(0)
  // Its rows stay as they are: what it is depends on the disk.
  expect(engine.db.prepare('SELECT DISTINCT state FROM frames').pluck().all()).toEqual(['ok'])
})
