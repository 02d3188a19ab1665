import { expect, test } from 'vitest'
import { freshEngine } from '../engines.ts'
import { freshFolder, writeFrame, writeRun } from '../night-files.ts'

test('nights are found by what was photographed in them, newest first, with the hours of that alone', async () => {
  const folder = freshFolder()
  const engine = await freshEngine()
  writeRun(`${folder}/a`, 3, { target: 'M 31 panel 1', exposureS: 60 })
  writeRun(`${folder}/b`, 2, { target: 'M31 panel 2', exposureS: 120, gain: 101 })
  writeFrame(folder, 'other.fits', { target: 'Field 7', exposureS: 600, seed: 40 })
  writeFrame(folder, 'flat.fits', { kind: 'Flat Field', target: 'M 31', exposureS: 2, seed: 41 })
  const earlier = { target: 'M 31 panel 1', exposureS: 30, startedAt: '2026-10-02T22:00:00', seed: 42 }
  writeFrame(folder, 'earlier.fits', earlier)
  await engine.log([folder])
  const find = async (target: string) => (await engine.ask('findNights', { target })).nights

  expect(await find('m31')).toEqual([
    { night: '2026-11-20', targets: ['M 31 panel 1', 'M31 panel 2'], lights: 5, lightS: 3 * 60 + 2 * 120 },
    { night: '2026-10-02', targets: ['M 31 panel 1'], lights: 1, lightS: 30 },
  ])
  expect(await find('panel 2')).toEqual([{ night: '2026-11-20', targets: ['M31 panel 2'], lights: 2, lightS: 240 }])
  expect(await find('nowhere')).toEqual([])
  await expect(find('   ')).rejects.toThrow()

  // What was set aside is no light of the night.
  const aside = engine.db.prepare("SELECT id FROM frames WHERE night = '2026-10-02'").pluck().get() as number
  await engine.ask('setAside', { frames: [aside] })
  expect((await find('m31')).map(({ night }) => night)).toEqual(['2026-11-20'])
})

test('a search among targets and the nights of one are answered from the index alone', async () => {
  const { db } = await freshEngine()
  const plans = [
    "SELECT min(target) FROM frames WHERE kind = 'light' AND aside = 0 AND target > 'a'",
    "SELECT night, count(*), sum(exposure_s) FROM frames WHERE kind = 'light' AND aside = 0 AND target = 'a' GROUP BY night",
  ].map((sql) => (db.prepare(`EXPLAIN QUERY PLAN ${sql}`).all() as { detail: string }[]).map(({ detail }) => detail))
  for (const plan of plans) expect(plan).toEqual([expect.stringContaining('COVERING INDEX frames_by_target')])
})
