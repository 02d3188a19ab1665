import { renameSync, rmSync } from 'node:fs'
import { join } from 'node:path'
import { expect, test } from 'vitest'
import { countFrames, frameById } from '../../../db/tables/frames.ts'
import { openEngine } from '../../../main/engine/open.ts'
import { freshEngine, listenTo, StillClock } from '../engines.ts'
import { freshFolder, writeFrame, writeRun } from '../night-files.ts'

const live = { live: true, watching: { intervals: { rootMs: 200 } } }

test("another disk in a folder's place: frames of the first are out of reach, keep their rows, and are back with it", async () => {
  const base = freshFolder()
  const card = join(base, 'card')
  const paths = writeRun(card, 3)
  const engine = await freshEngine(live)
  const told = listenTo(engine)
  await engine.ask('watchFolder', { path: card })
  await told.until(() => countFrames(engine.db) === 3)
  const states = async () => {
    const ids = Array.from({ length: countFrames(engine.db) }, (_, i) => i + 1)
    return Promise.all(ids.map(async (id) => (await engine.ask('frame', { id })).frame.state))
  }

  renameSync(card, join(base, 'first'))
  // Of the same name as a frame of the first card, and another frame.
  writeFrame(join(base, 'second'), 'light_0000.fits', { startedAt: '2026-11-20T23:00:00', seed: 70 })
  renameSync(join(base, 'second'), card)
  await expect.poll(() => countFrames(engine.db), { timeout: 10_000 }).toBe(4)
  await engine.settled()
  expect(await states()).toEqual(['out of reach', 'out of reach', 'out of reach', 'ok'])
  expect(frameById(engine.db, 4)).toMatchObject({ path: paths[0], startedAt: '2026-11-20T23:00:00.000Z' })

  renameSync(card, join(base, 'second'))
  renameSync(join(base, 'first'), card)
  await expect.poll(states, { timeout: 10_000 }).toEqual(['ok', 'ok', 'ok', 'out of reach'])
  expect(countFrames(engine.db)).toBe(4)
}, 40_000)

test('at a start, a folder that lost some of its frames has lost them; one that holds none of them is out of reach', async () => {
  const base = freshFolder()
  const kept = writeRun(join(base, 'frames', 'kept'), 3)
  writeRun(join(base, 'frames', 'away'), 2, { gain: 200 })
  const dataDir = join(freshFolder(), 'data')
  const before = await openEngine({ dataDir, clock: new StillClock(), zone: 'UTC' })
  await before.log([join(base, 'frames')])
  await before.close()
  rmSync(kept[1])
  renameSync(join(base, 'frames', 'away'), join(base, 'elsewhere'))

  const engine = await freshEngine({ ...live, dataDir })
  await engine.ask('watchFolder', { path: join(base, 'frames') })
  const stateOf = async (path: string) => {
    const id = engine.db.prepare('SELECT id FROM frames WHERE path = ?').pluck().get(path) as number
    return (await engine.ask('frame', { id })).frame.state
  }
  await expect.poll(() => stateOf(kept[1]), { timeout: 10_000 }).toBe('gone')
  expect(await stateOf(kept[0])).toBe('ok')
  expect(await stateOf(join(base, 'frames', 'away', 'light_0000.fits'))).toBe('out of reach')
}, 30_000)
