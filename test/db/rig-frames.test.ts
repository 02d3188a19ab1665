import { expect, test } from 'vitest'
import { frameIdsBetween, highestFrameId } from '../../db/tables/rig-frames.ts'
import { freshEngine } from '../engine/engines.ts'
import { freshFolder, writeRun } from '../engine/night-files.ts'

test('frames below a folder are found window by window of ids, each once, however few fit', async () => {
  const [one, other] = [freshFolder(), freshFolder()]
  writeRun(one, 5)
  const engine = await freshEngine()
  await engine.log([one])
  const ofOne = highestFrameId(engine.db)
  expect(frameIdsBetween(engine.db, one, `${one}\u{10ffff}`, 0, ofOne)).toHaveLength(5)
  expect(frameIdsBetween(engine.db, one, `${one}\u{10ffff}`, 0, 2)).toEqual([1, 2])
  expect(frameIdsBetween(engine.db, one, `${one}\u{10ffff}`, 2, 4)).toEqual([3, 4])
  expect(frameIdsBetween(engine.db, one, `${one}\u{10ffff}`, 5, 9)).toEqual([])
  expect(frameIdsBetween(engine.db, other, `${other}\u{10ffff}`, 0, ofOne)).toEqual([])
})
