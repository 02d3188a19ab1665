import { expect, test } from 'vitest'
import { Refusal } from '../../main/contract/index.ts'
import { countFrames } from '../../db/tables/frames.ts'
import type { Engine } from '../../main/engine/open.ts'
import { freshEngine, listenTo } from './engines.ts'
import { freshFolder, writeRun } from './night-files.ts'

// SQLite answers SQLITE_FULL when a database would outgrow max_page_count, as it does when the disk is full.
const fill = (engine: Engine, morePages: number) =>
  engine.db.pragma(`max_page_count = ${(engine.db.pragma('page_count', { simple: true }) as number) + morePages}`)
const makeRoom = (engine: Engine) => engine.db.pragma('max_page_count = 1073741823')

test('a full disk stops a log with a sentence, leaves nothing half done, and the next run goes on', async () => {
  const folder = freshFolder()
  writeRun(folder, 400)
  const engine = await freshEngine()
  fill(engine, 40)
  const error = await engine.log([folder]).catch((e: unknown) => e)
  expect(error).toBeInstanceOf(Refusal)
  expect((error as Refusal).message).toMatch(/disk is full; make room/)
  const kept = countFrames(engine.db)
  expect(kept).toBeLessThan(400)
  expect(engine.db.prepare('SELECT count(*) FROM cards').pluck().get()).toBe(kept)
  expect(engine.db.pragma('integrity_check', { simple: true })).toBe('ok')
  makeRoom(engine)
  const { summary } = await engine.log([folder])
  expect(summary).toMatchObject({ seen: 400, logged: 400 - kept, already: kept })
})

test('a full disk at night is told with a sentence, and the frames are logged by themselves once there is room', async () => {
  const folder = freshFolder()
  const engine = await freshEngine({ live: true })
  const told = listenTo(engine)
  await engine.ask('watchFolder', { path: folder })
  await engine.settled()
  fill(engine, 1)
  writeRun(folder, 200)
  await told.until(() => told.of('progress').some(({ job, state }) => job === 'log' && state === 'failed'))
  expect(told.of('progress').find(({ job }) => job === 'log')?.text).toMatch(/disk is full; make room/)
  makeRoom(engine)
  await told.until(() => countFrames(engine.db) === 200, 15_000)
  expect(engine.db.pragma('integrity_check', { simple: true })).toBe('ok')
}, 40_000)

test('a request that cannot be written is refused with a sentence', async () => {
  const engine = await freshEngine()
  fill(engine, 0)
  let error: unknown = null
  for (let i = 0; i < 200 && !error; i++)
    error = await engine.ask('watchFolder', { path: freshFolder() }).then(
      () => null,
      (e: unknown) => e,
    )
  expect(error).toBeInstanceOf(Refusal)
  expect((error as Refusal).message).toMatch(/disk is full/)
})
