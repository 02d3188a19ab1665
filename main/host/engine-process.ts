import type { FromEngine, ToEngine } from '../contract/index.ts'
import { serveHost, type HostPort } from '../engine/serve.ts'
import { playDemo } from './play-demo.ts'

/** What Electron's utility process has instead of `process.send`. */
interface ParentPort {
  postMessage(message: FromEngine): void
  on(event: 'message', listener: (event: { data: ToEngine }) => void): void
}

/** The port to whatever started this process: Electron's `parentPort`, or the channel of `child_process.fork`. */
function hostPort(): HostPort {
  const parent = (process as { parentPort?: ParentPort }).parentPort
  if (parent)
    return {
      send: (message) => parent.postMessage(message),
      onMessage: (listener) => parent.on('message', ({ data }) => listener(data)),
      // Electron ends its utility processes itself; there is nothing to hear.
      onGone: () => {},
    }
  return {
    send: (message) => void (process.connected && process.send?.(message, undefined, undefined, () => {})),
    onMessage: (listener) => void process.on('message', (message) => listener(message as ToEngine)),
    onGone: (listener) => void process.once('disconnect', listener),
  }
}

// Ctrl-C reaches every process of the terminal's group, and SIGTERM every one of a service: the host asks for a clean end instead.
process.on('SIGINT', () => {}).on('SIGTERM', () => {})

const dataDir = process.argv[2]
if (!dataDir) throw new Error('The engine is started with its data folder as the first argument.')
process.exitCode = await serveHost(hostPort(), { dataDir, playDemo })
// The last answer is still on its way: the channel closes behind it, and nothing else keeps this process alive.
if (process.connected) process.disconnect()
setTimeout(() => process.exit(), 500).unref()
if ('parentPort' in process) setTimeout(() => process.exit(), 200)
