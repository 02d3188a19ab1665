import { fork } from 'node:child_process'
import type { FromEngine } from '../../contract/index.ts'
import { engineEnvironment, type EngineProcess } from '../engine-link.ts'

/**
 * Starts the engine as a child process of this Node.
 * @param script the built engine (`out/main/engine.js`)
 */
export function forkEngine(script: string, dataDir: string): EngineProcess {
  // What the engine prints goes to stderr: stdout belongs to the address.
  const child = fork(script, [dataDir], {
    stdio: ['ignore', process.stderr, process.stderr, 'ipc'],
    env: engineEnvironment(process.env),
  })
  return {
    send: (message) => {
      // A message to a process that just died is answered by its exit.
      if (child.connected) child.send(message, () => {})
    },
    onMessage: (listener) => void child.on('message', (message) => listener(message as FromEngine)),
    onExit: (listener) => {
      let told = false
      const tell = (code: number | null) => {
        if (!told) listener(code)
        told = true
      }
      child.on('exit', tell)
      child.on('error', () => tell(null))
    },
    kill: () => void child.kill('SIGKILL'),
  }
}
