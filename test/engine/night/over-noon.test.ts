import { expect, test } from 'vitest'
import { freshEngine, StillClock } from '../engines.ts'
import { freshFolder, writeFrame } from '../night-files.ts'

const darks = (folder: string, from: string, count: number, exposureS = 600) =>
  Array.from({ length: count }, (_, i) =>
    writeFrame(folder, `dark_${from.slice(5, 16).replace(':', '')}_${i}.fits`, {
      kind: 'Dark',
      exposureS,
      filter: null,
      target: null,
      startedAt: new Date(Date.parse(`${from}Z`) + i * (exposureS + 5) * 1000).toISOString().slice(0, 19),
      seed: 300 + i,
    }),
  )

test('a run of darks that goes on over noon is one run of the night in which it began, and that night stays on the screen', async () => {
  const clock = new StillClock()
  clock.at = new Date('2026-11-21T13:10:00Z')
  const engine = await freshEngine({ clock })
  const folder = freshFolder()
  writeFrame(folder, 'light.fits', { startedAt: '2026-11-20T22:00:00' })
  // 10:30 … 13:00: nine begin before noon, six after it.
  darks(folder, '2026-11-21T10:30:00', 15)
  await engine.log([folder])
  const { night, runs } = await engine.ask('tonight', {})
  expect(night).toBe('2026-11-20')
  expect(runs.filter((run) => run.kind === 'dark')).toMatchObject([
    { frames: 15, totalS: 9000, night: '2026-11-20', lastAt: '2026-11-21T12:51:10.000Z' },
  ])
  expect((await engine.ask('tonight', { night: '2026-11-21' })).runs).toEqual([])

  // Others, begun after noon, are the new night's; the long run is not told twice.
  darks(folder, '2026-11-21T13:05:00', 4, 30)
  await engine.log([folder])
  const after = await engine.ask('tonight', {})
  expect(after.night).toBe('2026-11-21')
  expect(after.runs).toMatchObject([{ kind: 'dark', exposureS: 30, frames: 4 }])
})

test('a run over two noons is followed to the night in which it began; darks of the next evening are their own', async () => {
  const engine = await freshEngine()
  const folder = freshFolder()
  darks(folder, '2026-11-20T20:00:00', 48, 3600)
  darks(folder, '2026-11-23T20:00:00', 3, 3600)
  await engine.log([folder])
  const framesOf = async (night: string) =>
    (await engine.ask('tonight', { night })).runs.map((run) => [run.night, run.frames])
  expect(await framesOf('2026-11-20')).toEqual([['2026-11-20', 48]])
  expect(await framesOf('2026-11-21')).toEqual([])
  expect(await framesOf('2026-11-22')).toEqual([])
  expect(await framesOf('2026-11-23')).toEqual([['2026-11-23', 3]])
})
