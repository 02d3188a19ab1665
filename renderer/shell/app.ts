import { createContext } from 'svelte'
import { BridgeTransport } from '../client/bridge.ts'
import { Client } from '../client/client.svelte.ts'
import { SocketTransport, socketAddress } from '../client/socket.ts'
import { Troubles } from '../client/troubles.svelte.ts'
import type { NightshelfBridge } from '../../main/contract/wire.ts'
import { TonightState } from '../places/tonight/tonight.svelte.ts'
import { Adding } from '../places/shelf/adding.svelte.ts'
import { Clock } from './clock.svelte.ts'
import { Jobs } from './jobs.svelte.ts'
import { KeyChoice } from './keys.svelte.ts'
import { Look } from './look.svelte.ts'
import { Route } from './route.svelte.ts'
import { Sound } from './sound.svelte.ts'
import { readStored, writeStored } from './stored.ts'

declare global {
  interface Window {
    nightshelf?: NightshelfBridge
  }
}

/** What every place of the window shares. */
export interface App {
  client: Client
  troubles: Troubles
  route: Route
  look: Look
  clock: Clock
  sound: Sound
  jobs: Jobs
  keys: KeyChoice
  /** The present night, kept fresh whatever place is open: what must be done now is heard and seen everywhere. */
  night: TonightState
  /** Masters on their way to the shelf: they may be dropped on any place. */
  adding: Adding
  /** True in a desktop window on the engine's own machine, which can show a file where it stands. */
  onDesktop: boolean
}

export const [useApp, provideApp] = createContext<App>()

export function createApp(): App {
  const route = new Route(location.hash)
  const client = createClient(route)
  const troubles = new Troubles()
  return {
    client,
    night: new TonightState(client),
    troubles,
    route,
    look: new Look(location.search),
    clock: new Clock(),
    sound: new Sound(),
    jobs: new Jobs(),
    keys: new KeyChoice(),
    adding: new Adding(client, troubles),
    onDesktop: window.nightshelf !== undefined,
  }
}

/** The property that Electron's preload sets tells the two hosts apart. */
function createClient(route: Route): Client {
  if (window.nightshelf) return new Client(new BridgeTransport(window.nightshelf), 'ready')
  const token = /^#t=(.+)$/.exec(location.hash)?.[1] ?? null
  const transport = new SocketTransport({
    open: () => new WebSocket(socketAddress(location)),
    token,
    session: { get: () => readStored('session'), set: (session) => writeStored('session', session) },
    onTokenSpent: () => route.replace('#/tonight'),
  })
  window.addEventListener('online', () => transport.retry())
  document.addEventListener('visibilitychange', () => document.hidden || transport.retry())
  return new Client(transport)
}
