import { writeFileSync } from 'node:fs'
import { join } from 'node:path'
import { expect, onTestFinished, test } from 'vitest'
import { measuredOf } from '../../../db/tables/frame-figures.ts'
import { countFrames, framesOfKind } from '../../../db/tables/frames.ts'
import type { EngineEvent } from '../../../main/contract/index.ts'
import { SecondLane } from '../../../main/engine/measure/second-lane.ts'
import { freshEngine, StillClock } from '../engines.ts'
import { frameBytes, freshFolder, writeRun } from '../night-files.ts'

test('a flat that somebody waits for is measured ahead of all others; its hash follows when its turn comes', async () => {
  const folder = freshFolder()
  writeRun(folder, 20)
  // Of an earlier night: in the ordinary order it would be the last.
  writeFileSync(join(folder, 'flat.fits'), frameBytes({ kind: 'Flat', exposureS: 4, startedAt: '2026-11-10T06:00:00' }))
  const engine = await freshEngine()
  await engine.log([folder])
  const flat = framesOfKind(engine.db, 'flat')[0].id
  expect(countFrames(engine.db)).toBe(21)
  const told: number[] = []
  let whenTold: ReturnType<typeof measuredOf>
  const core = {
    db: engine.db,
    dataDir: freshFolder(),
    clock: new StillClock(),
    closing: new AbortController().signal,
    isOutOfReach: () => false,
    changed: () => {},
    tell: (event: EngineEvent) => {
      if (event.event !== 'figures') return
      told.push(event.frame)
      if (event.frame === flat) whenTold ??= measuredOf(engine.db, flat)
    },
  }
  const lane = new SecondLane(core as never)
  onTestFinished(() => lane.close())
  lane.wake()
  lane.first(flat)
  await expect.poll(() => told.includes(flat), { timeout: 20_000 }).toBe(true)
  // Behind those the threads had begun, and far from the last.
  expect(told.indexOf(flat)).toBeLessThan(10)
  // Looked at when it is told: a moment later the hash of so small a file may be there.
  expect(whenTold).toMatchObject({ sha256: null, problem: null })
  await expect
    .poll(() => new Set(told).size === 21 && measuredOf(engine.db, flat)!.sha256 !== null, { timeout: 20_000 })
    .toBe(true)
})
