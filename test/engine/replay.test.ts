import { expect, test } from 'vitest'
import { freshEngine, listenTo, StillClock } from './engines.ts'
import { freshFolder, writeFrame } from './night-files.ts'

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
