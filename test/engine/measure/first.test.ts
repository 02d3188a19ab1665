import { writeFileSync } from 'node:fs'
import { join } from 'node:path'
import { expect, onTestFinished, test } from 'vitest'
import { measuredOf } from '../../../db/tables/frame-figures.ts'
import { countFrames, framesOfKind, nightToMeasure } from '../../../db/tables/frames.ts'
import type { EngineEvent } from '../../../main/contract/index.ts'
import { SecondLane } from '../../../main/engine/measure/second-lane.ts'
import { freshEngine, StillClock } from '../engines.ts'
import { frameBytes, freshFolder, writeRun } from '../night-files.ts'

test('a flat that somebody waits for is measured ahead of all others, and each frame is measured and told of once', async () => {
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
  // Both threads are up before it begins.
  await lane.measure(
    framesOfKind(engine.db, 'light')
      .slice(0, 2)
      .map(({ id }) => id),
  )
  lane.wake()
  lane.first(flat)
  await expect.poll(() => told.includes(flat), { timeout: 20_000 }).toBe(true)
  // Behind those that the threads had done or begun, and far from the last.
  expect(told.indexOf(flat)).toBeLessThan(10)
  expect(whenTold).toMatchObject({ sha256: expect.any(Buffer), problem: null })
  await expect.poll(() => nightToMeasure(engine.db, '~'), { timeout: 20_000 }).toBeNull()
  await lane.close()
  expect(told.toSorted((a, b) => a - b)).toEqual(Array.from({ length: 21 }, (_, i) => i + 1))
})
