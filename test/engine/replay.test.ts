import { expect, test } from 'vitest'
import { freshEngine, listenTo, StillClock } from './engines.ts'
import { freshFolder, writeFrame } from './night-files.ts'
import { addMaster } from './rigs/shelf.ts'

test('ages are told as of one moment: of a past night its own end, in verdicts and notices alike', async () => {
  const clock = new StillClock()
  const engine = await freshEngine({ clock })
  const folder = freshFolder()
  for (const i of [0, 1, 2, 3])
    writeFrame(folder, `light_${i}.fits`, { startedAt: `2026-11-20T22:${10 + 5 * i}:00`, seed: 80 + i })
  await engine.log([folder])
  // Flats of 62 days and a half: "shoot a check frame".
  const master = await addMaster(engine, 'Flat', { startedAt: '2026-09-20T00:00:00', exposureS: 4 })
  const told = async () => {
    const { latest, runs, notices } = await engine.ask('tonight', { night: '2026-11-20' })
    const aging = notices.find((notice) => notice.rule === 'flat-aging')
    const texts = [latest[0].verdicts.flat?.text, runs[0].verdicts.flat?.text, aging?.text, aging?.why]
    return { master: runs[0].verdicts.flat?.master, days: texts.flatMap((text) => text?.match(/\d+ days/g) ?? []) }
  }
  const asItWas = await told()
  expect(asItWas.master).toBe(master)
  expect(new Set(asItWas.days)).toEqual(new Set(['61 days']))
  clock.at = new Date('2026-12-25T12:00:00Z')
  const later = await told()
  expect(later.days.length).toBeGreaterThan(1)
  expect(new Set(later.days)).toEqual(new Set(['62 days']))
})

test('a night that is being replayed is told as it was, not as over; a quarter of an hour later it is over', async () => {
  const clock = new StillClock()
  clock.at = new Date('2026-11-25T14:00:00Z')
  const engine = await freshEngine({ live: true, clock })
  const told = listenTo(engine)
  const folder = freshFolder()
  await engine.ask('watchFolder', { path: folder })
  await engine.settled()
  for (const k of [0, 1, 2]) {
    writeFrame(folder, `light_${k}.fits`, { startedAt: `2026-11-20T22:${10 + 5 * k}:00`, seed: 70 + k })
    await told.until(() => told.of('landed').length === k + 1)
  }
  const during = await engine.ask('tonight', {})
  // The newest frame began at 22:20 and took 300 s.
  expect(during).toMatchObject({ night: '2026-11-20', now: '2026-11-20T22:25:00.000Z' })
  expect(during.shortfall.map(({ kind, urgency }) => `${kind} ${urgency}`)).not.toContain('flat actNow')
  clock.at = new Date('2026-11-25T14:20:00Z')
  const after = await engine.ask('tonight', {})
  expect(after.now).toBe('2026-11-25T14:20:00.000Z')
  expect(after.shortfall.map(({ kind, urgency }) => `${kind} ${urgency}`)).toContain('flat actNow')
})
