import { spawn, type ChildProcess, type SpawnOptions } from 'node:child_process'

/** A process of the program, with all that it prints. */
export class Running {
  stdout = ''
  stderr = ''
  readonly child: ChildProcess
  readonly ended: Promise<number | string>
  readonly #listeners = new Set<() => void>()

  constructor(command: string, args: string[], options: SpawnOptions = {}) {
    this.child = spawn(command, args, { stdio: ['ignore', 'pipe', 'pipe'], ...options })
    const collect = (name: 'stdout' | 'stderr') => (chunk: Buffer) => {
      this[name] += chunk
      for (const look of this.#listeners) look()
    }
    this.child.stdout?.on('data', collect('stdout'))
    this.child.stderr?.on('data', collect('stderr'))
    // 'close' and not 'exit': everything printed has arrived by then.
    this.ended = new Promise((resolve) => {
      this.child.on('close', (code, signal) => {
        resolve(code ?? signal ?? -1)
        for (const look of this.#listeners) look()
      })
    })
  }

  /** The first match in what was printed, now or later; rejects if the process ends without. */
  printed(pattern: RegExp): Promise<RegExpMatchArray> {
    return new Promise((resolve, reject) => {
      const look = () => {
        const match = this.stdout.match(pattern) ?? this.stderr.match(pattern)
        if (match) {
          this.#listeners.delete(look)
          resolve(match)
        } else if (this.child.exitCode !== null || this.child.signalCode !== null)
          reject(
            new Error(`It ended with ${this.child.exitCode ?? this.child.signalCode}:\n${this.stdout}${this.stderr}`),
          )
      }
      this.#listeners.add(look)
      look()
    })
  }

  /** The address that the headless host printed, alone on its line. */
  async address(): Promise<string> {
    return (await this.printed(/^http:\/\/127\.0\.0\.1:\d+\/#t=[\w-]+$/m))[0]
  }

  /** Asks it to stop; resolves with its exit code. */
  stop(signal: NodeJS.Signals = 'SIGTERM'): Promise<number | string> {
    this.child.kill(signal)
    return this.ended
  }
}
