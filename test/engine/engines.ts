import { join } from 'node:path'
import { onTestFinished } from 'vitest'
import type { EngineEvent } from '../../main/contract/index.ts'
import { openEngine, type Engine, type EngineOptions } from '../../main/engine/open.ts'
import { freshFolder } from './night-files.ts'

/** A clock that stands still in the night of 2026-11-20 until it is moved. */
export class StillClock {
  at = new Date('2026-11-20T23:00:00Z')
  now = () => this.at
}

/** An engine on a data folder of its own, closed after the test. Its zone is UTC. */
export async function freshEngine(options: Partial<EngineOptions> = {}): Promise<Engine> {
  const engine = await openEngine({
    dataDir: join(freshFolder(), 'data'),
    clock: new StillClock(),
    zone: 'UTC',
    ...options,
  })
  onTestFinished(() => engine.close())
  return engine
}

/** Everything that an engine tells, and a way to wait for what it has not told yet. */
export function listenTo(engine: Engine) {
  const events: EngineEvent[] = []
  const waiting = new Set<() => void>()
  engine.listen((event) => {
    events.push(event)
    for (const look of waiting) look()
  })
  return {
    events,
    of: <E extends EngineEvent['event']>(name: E) =>
      events.filter((event): event is Extract<EngineEvent, { event: E }> => event.event === name),
    /** Resolves once `holds`; rejects after `patienceMs`. */
    until(holds: () => boolean, patienceMs = 10_000): Promise<void> {
      return new Promise((resolve, reject) => {
        const giveUp = setTimeout(() => {
          waiting.delete(look)
          reject(new Error(`not told within ${patienceMs} ms; told: ${events.map((event) => event.event).join(' ')}`))
        }, patienceMs)
        const look = () => {
          if (!holds()) return
          clearTimeout(giveUp)
          waiting.delete(look)
          resolve()
        }
        waiting.add(look)
        look()
      })
    },
  }
}
