import { renameSync } from 'node:fs'
import { join } from 'node:path'
import { expect, test } from 'vitest'
import { countFrames } from '../../../db/tables/frames.ts'
import { freshEngine, listenTo } from '../../engine/engines.ts'
import { freshFolder, writeFrame, writeRun } from '../../engine/night-files.ts'

/** `CHAOS_VANISH=10` lets the folder go and come back ten times. Intervals are those of a real night. */
const times = Number(process.env.CHAOS_VANISH ?? 0)

test.skipIf(!times)(
  'a folder that goes and comes back: a notice within 10 s, caught up within 30 s, nothing marked deleted',
  async () => {
    const base = freshFolder()
    const [night, away] = [join(base, 'night'), join(base, 'away')]
    let frames = writeRun(night, 40).length
    const engine = await freshEngine({ live: true })
    const told = listenTo(engine)
    await engine.ask('watchFolder', { path: night })
    await told.until(() => countFrames(engine.db) === frames)
    const isLost = async () => (await engine.ask('tonight', {})).notices.some((notice) => notice.rule === 'watch-lost')
    let slowest = { noticeS: 0, caughtUpS: 0 }
    for (let i = 0; i < times; i++) {
      renameSync(night, away)
      const left = performance.now()
      await expect.poll(isLost, { timeout: 10_000, interval: 100 }).toBe(true)
      const noticeS = (performance.now() - left) / 1000
      for (let k = 0; k < 10; k++) writeFrame(away, `back_${i}_${k}.fits`, { seed: 1000 + i * 10 + k, gain: 100 })
      frames += 10
      renameSync(away, night)
      const back = performance.now()
      await expect.poll(() => countFrames(engine.db), { timeout: 30_000, interval: 100 }).toBe(frames)
      slowest = {
        noticeS: Math.max(slowest.noticeS, noticeS),
        caughtUpS: Math.max(slowest.caughtUpS, (performance.now() - back) / 1000),
      }
      await expect.poll(isLost, { timeout: 10_000 }).toBe(false)
      const gone = engine.db.prepare("SELECT count(*) FROM frames WHERE state != 'ok'").pluck().get()
      expect(gone).toBe(0)
    }
    console.log(
      `${times} times: notice within ${slowest.noticeS.toFixed(1)} s, caught up within ${slowest.caughtUpS.toFixed(1)} s, ${frames} frames, none marked as deleted`,
    )
  },
  600_000,
)
