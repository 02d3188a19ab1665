import type { Tonight } from '../../contract/index.ts'
import type { EngineKeeper, EngineState } from '../engine-link.ts'

/** What tray and notifications look at: the night as it stands, or that the engine is not there. */
export interface NightView {
  engine: EngineState
  tonight: Tonight | null
}

export interface Night {
  /** Calls back with the night now and whenever it changed. */
  follow(listener: (view: NightView) => void): void
}

/**
 * Asks for the night when something of it changed, and not more often than once in `pauseMs` however fast frames land; each
 * `lookMs` all the same, because dawn comes without a frame.
 */
export function followNight(engine: EngineKeeper, { pauseMs = 1_000, lookMs = 5 * 60_000 } = {}): Night {
  const listeners: ((view: NightView) => void)[] = []
  let view: NightView = { engine: engine.state, tonight: null }
  let waiting: NodeJS.Timeout | null = null
  const tell = (next: NightView) => {
    view = next
    for (const listener of listeners) listener(view)
  }
  const look = async () => {
    waiting = null
    const tonight = await engine.ask('tonight', {}).catch(() => null)
    tell({ engine: engine.state, tonight: tonight ?? view.tonight })
  }
  const lookSoon = () => {
    waiting ??= setTimeout(look, pauseMs)
  }
  setInterval(lookSoon, lookMs).unref()
  engine.listen((event) => {
    if (event.event === 'engine') tell({ ...view, engine: event.state })
    if (event.event === 'landed' || (event.event === 'changed' && event.what.includes('night'))) lookSoon()
    if (event.event === 'engine' && event.state === 'ready') lookSoon()
  })
  return {
    follow: (listener) => {
      listeners.push(listener)
      listener(view)
    },
  }
}
