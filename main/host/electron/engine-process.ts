import { utilityProcess } from 'electron'
import type { FromEngine } from '../../contract/index.ts'
import { engineEnvironment, type EngineProcess } from '../engine-link.ts'

/** Starts the engine as a utility process: Node without a window, outside the main process. */
export function startUtilityProcess(script: string, dataDir: string): EngineProcess {
  const child = utilityProcess.fork(script, [dataDir], {
    serviceName: 'Nightshelf engine',
    stdio: 'inherit',
    env: engineEnvironment(process.env),
  })
  return {
    send: (message) => child.postMessage(message),
    onMessage: (listener) => void child.on('message', (message: FromEngine) => listener(message)),
    onExit: (listener) => void child.on('exit', (code) => listener(code)),
    // Its own `kill` asks politely, which an engine that hangs would not hear.
    kill: () => {
      if (child.pid !== undefined) process.kill(child.pid, 'SIGKILL')
    },
  }
}
