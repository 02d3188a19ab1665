import { mkdtempSync, rmSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { fileURLToPath } from 'node:url'
import { Running } from '../../host/support/process.ts'

export { Running }
export const root = fileURLToPath(new URL('../../../', import.meta.url))
const cli = join(root, 'out', 'main', 'cli.js')

/** The built command line, run to its end. `data` is the folder with the database. */
export async function runCommandLine(data: string, ...args: string[]) {
  const running = new Running(process.execPath, [cli, '--data', data, ...args])
  const code = await running.ended
  return { code, stdout: running.stdout, stderr: running.stderr }
}

/** The built headless host with the real engine, on a free port. */
export class Host implements AsyncDisposable {
  readonly running: Running
  readonly data: string
  readonly #ownsData: boolean

  constructor(options: { data?: string; args?: string[] } = {}) {
    this.#ownsData = options.data === undefined
    this.data = options.data ?? mkdtempSync(join(tmpdir(), 'nightshelf-data-'))
    const args = [cli, '--data', this.data, 'serve', '--port', '0', ...(options.args ?? [])]
    this.running = new Running(process.execPath, args)
  }

  /** Starts it and waits for its address. */
  static async start(options: { data?: string; args?: string[] } = {}): Promise<Host> {
    const host = new Host(options)
    await host.running.address()
    return host
  }

  /** An address that still lets a browser in: the newest one printed. */
  get address(): string {
    return this.running.stdout.match(/^http:\/\/127\.0\.0\.1:\d+\/#t=[\w-]+$/gm)?.at(-1) ?? ''
  }

  get origin(): string {
    return new URL(this.address).origin
  }

  /** @returns the exit code: 0 after a clean stop */
  stop(): Promise<number | string> {
    return this.running.stop()
  }

  async [Symbol.asyncDispose](): Promise<void> {
    await this.stop()
    if (this.#ownsData) rmSync(this.data, { recursive: true, force: true })
  }
}
