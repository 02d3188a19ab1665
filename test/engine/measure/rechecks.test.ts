import { closeSync, openSync, statSync, utimesSync, writeFileSync, writeSync } from 'node:fs'
import { join } from 'node:path'
import { expect, test } from 'vitest'
import { measuredOf } from '../../../db/tables/frame-figures.ts'
import { countFrames } from '../../../db/tables/frames.ts'
import { SecondLane } from '../../../main/engine/measure/second-lane.ts'
import { encodeFits } from '../../../main/fits/write.ts'
import { freshEngine } from '../engines.ts'
import { freshFolder, writeRun } from '../night-files.ts'

test('bytes that change under the same size and time are found at dawn, and the frame is measured anew, not logged twice', async () => {
  const folder = freshFolder()
  writeRun(folder, 2)
  // Large enough that one pixel lies outside the last 4 KiB.
  const path = join(folder, 'a.fits')
  const image = Uint16Array.from({ length: 10_000 }, (_, i) => 1000 + ((i * 7919) % 997))
  const cards = [{ keyword: 'DATE-OBS', value: '2026-11-20T20:00:00' }]
  writeFileSync(
    path,
    encodeFits({ width: 100, height: 100, bitpix: 16, unsigned: true, cards, image, checksum: false }),
  )
  const engine = await freshEngine()
  await engine.log([folder])
  await engine.measure([1, 2, 3])
  const before = measuredOf(engine.db, 1)!
  const { atime, mtime } = statSync(path)
  const fd = openSync(path, 'r+')
  writeSync(fd, Buffer.from([0x12]), 0, 1, 2880 + 20)
  closeSync(fd)
  utimesSync(path, atime, mtime)
  const core = { db: engine.db, closing: new AbortController().signal, isOutOfReach: () => false }
  const lane = new SecondLane(core as never)
  lane.wake = () => {}
  expect(await lane.rechecks.night('2026-11-20')).toBe(1)
  expect(measuredOf(engine.db, 1)).toBeUndefined()
  expect(countFrames(engine.db)).toBe(3)
  await engine.measure([1, 2, 3])
  expect(measuredOf(engine.db, 1)!.sha256!.equals(before.sha256!)).toBe(false)
  expect(await lane.rechecks.night('2026-11-20')).toBe(0)
})
