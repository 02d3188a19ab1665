import { resolve } from 'node:path'
import { setTimeout as sleep } from 'node:timers/promises'
import { Refusal } from '../../../contract/index.ts'
import { built } from '../../built.ts'
import { EngineKeeper } from '../../engine-link.ts'
import { forkEngine } from '../../headless/engine-process.ts'
import { DEFAULT_PORT, startHeadless, type Headless } from '../../headless/server.ts'
import { UsageError, type Call, type Verb } from '../verb.ts'

/**
 * The headless host: the window, served to a browser on this machine (or, with `--lan`, on its network).
 * @param parts the engine's script, the page's folder and the version to tell
 */
export const serveFrom = (parts: Pick<typeof built, 'engine' | 'page' | 'version'>): Verb => ({
  name: 'serve',
  summary: 'serve the window to a browser; prints its address',
  usage: [
    'usage: nightshelf serve [--watch DIR]… [--poll DIR]… [--port N] [--lan] [--origin URL]…',
    '',
    '  --watch DIR   watch this folder from now on (may be given several times)',
    '  --poll DIR    watch it too, but look for frames every few seconds instead of waiting for the system to tell;',
    '                network mounts of Linux are polled by themselves',
    `  --port N      the port, ${DEFAULT_PORT} by default; 0 takes a free one`,
    '  --lan         let other machines of this network in, with the pairing code that is printed',
    '  --origin URL  the address of your own proxy or tunnel in front of it, like https://scope.example',
    '',
    'Prints the address to open, alone on a line. It lets one browser in; a fresh one is printed when it was used.',
    'Ends cleanly on Ctrl-C and SIGTERM.',
  ].join('\n'),
  options: {
    watch: { type: 'string', multiple: true },
    poll: { type: 'string', multiple: true },
    port: { type: 'string' },
    lan: { type: 'boolean' },
    origin: { type: 'string', multiple: true },
  },
  run: async (call) => {
    const port = readPort(call.options.port as string | undefined)
    const origins = ((call.options.origin ?? []) as string[]).map(readOrigin)
    if (call.words.length) throw new UsageError(`"${call.words[0]}" is too much: folders are given with --watch DIR.`)
    const engine = new EngineKeeper({ start: () => forkEngine(parts.engine, call.dataDir), log: call.complain })
    let headless: Headless | null = null
    try {
      headless = await startHeadless({
        engine,
        pageDir: parts.page,
        dataDir: call.dataDir,
        port,
        lan: call.options.lan === true,
        origins,
        version: parts.version,
        log: call.complain,
        renewed: (what) => headless && showKey(headless, what, call),
      })
      const stopped = aborted(call.signal)
      // The page says for itself that the engine is starting; a large database must not keep the address back.
      await Promise.race([engine.opened, sleep(2_000, undefined, { ref: false }), stopped])
      announce(headless, call)
      await Promise.race([engine.opened, stopped])
      await watchAll(engine, foldersOf(call, 'watch'), false, call)
      await watchAll(engine, foldersOf(call, 'poll'), true, call)
      await stopped
      return 0
    } finally {
      await headless?.close()
      await engine.close()
    }
  },
})

export const serve = serveFrom(built)

function announce(headless: Headless, call: Call): void {
  call.say(headless.address())
  call.answer({ address: headless.address(), port: headless.port, lanAddress: headless.lanAddress })
  if (!call.options.lan) return
  call.complain(
    'Every machine on this network can now reach this window with the pairing code, and anyone who listens on the network can read along: use --lan only on a network you trust, or put your own TLS proxy or tunnel in front.',
  )
  call.say(headless.lanAddress ?? 'This machine has no network address at the moment.')
  showKey(headless, 'code', call)
}

/** An address lets one browser in; the next one is there for the next browser. */
function showKey(headless: Headless, what: 'token' | 'code', call: Call): void {
  if (what === 'token') call.say(`For another browser on this machine:\n${headless.address()}`)
  else call.say(`Pairing code for other machines: ${headless.code()}`)
}

function aborted(signal: AbortSignal): Promise<void> {
  if (signal.aborted) return Promise.resolve()
  return new Promise((resolve) => signal.addEventListener('abort', () => resolve(), { once: true }))
}

function readPort(text: string | undefined): number {
  if (text === undefined) return DEFAULT_PORT
  const port = Number(text)
  if (!/^\d+$/.test(text) || port > 65_535)
    throw new UsageError(`--port takes a number from 0 to 65535, not "${text}".`)
  return port
}

/** Only scheme, name and port of the proxy's address count. */
function readOrigin(text: string): string {
  if (!URL.canParse(text) || !/^https?:$/.test(new URL(text).protocol))
    throw new UsageError(`--origin takes an address like https://scope.example, not "${text}".`)
  return new URL(text).origin
}

const foldersOf = ({ options }: Call, option: 'watch' | 'poll') => (options[option] ?? []) as string[]

/** A folder that cannot be watched keeps none of the others from it: said, and gone on without. */
async function watchAll(
  engine: EngineKeeper,
  folders: string[],
  polling: boolean,
  { complain, signal }: Call,
): Promise<void> {
  for (const folder of folders) {
    if (signal.aborted) return
    await engine.ask('watchFolder', { path: resolve(folder), ...(polling && { polling }) }).catch((error: unknown) => {
      if (!(error instanceof Refusal)) throw error
      complain(error.message)
    })
  }
}
