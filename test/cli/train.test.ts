import { join } from 'node:path'
import { expect, test } from 'vitest'
import type { TrainChange } from '../../main/contract/index.ts'
import { log } from '../../main/host/cli/verbs/log.ts'
import { rig } from '../../main/host/cli/verbs/rig.ts'
import { train } from '../../main/host/cli/verbs/train.ts'
import { UsageError } from '../../main/host/cli/verb.ts'
import { freshFolder, writeFrame, writeRun } from '../engine/night-files.ts'
import { run } from './run.ts'

test('what headers hint at is shown beside the log, and nothing comes of it until it is confirmed or dismissed', async () => {
  const folder = freshFolder()
  const [capture, dataDir] = [join(folder, 'capture'), join(folder, 'data')]
  const focal = (mm: number) => [{ keyword: 'FOCALLEN', value: mm }]
  const shoot = (hour: number, mm: number) =>
    [0, 1, 2].forEach((i) =>
      writeFrame(capture, `${hour}_${i}.fits`, {
        startedAt: `2026-11-20T${hour}:0${i}:00`,
        seed: hour + i,
        more: focal(mm),
      }),
    )
  writeRun(join(capture, 'a'), 3, { more: focal(480) })
  shoot(22, 384)
  shoot(23, 200)
  await run(log, dataDir, [capture])
  await run(rig, dataDir, ['set', 'Refractor'], { folder: capture })
  const listed = async () => {
    const { document, said } = await run(train, dataDir, [])
    return { ...(document as { changes: TrainChange[]; suggestions: { id: string }[] }), said }
  }
  const { changes, suggestions, said } = await listed()
  expect([changes.length, suggestions.length]).toEqual([0, 2])
  expect(said).toContain(suggestions[0].id)
  const confirmed = await run(train, dataDir, ['confirm', suggestions[0].id, 'reducer', 'in'], { scope: 'camera' })
  expect(confirmed.document).toMatchObject({ rig: 'Refractor', scope: 'camera', text: 'reducer in' })
  await run(train, dataDir, ['dismiss', suggestions[1].id])
  expect(await listed()).toMatchObject({ changes: [{ text: 'reducer in' }], suggestions: [] })
  await expect(run(train, dataDir, ['confirm', suggestions[1].id])).rejects.toThrow('not suggested any more')
  await expect(run(train, dataDir, ['confirm'])).rejects.toThrow(UsageError)
  await expect(run(train, dataDir, ['confirm', 'x'], { scope: 'all' })).rejects.toThrow('--scope is one of')
})
