import { spawnSync } from 'node:child_process'
import { existsSync } from 'node:fs'
import { resolve } from 'node:path'

const script = resolve(import.meta.dirname, '../../out/main/cli.js')
/** The built program, as users run it; `npm test` builds it first. */
export const built = existsSync(script)

export interface Ran {
  code: number | null
  out: string
  err: string
  /** What it printed as its one JSON document. @throws where stdout is anything else */
  json(): Record<string, never>
}

export function nightshelf(...args: string[]): Ran {
  const env = { ...process.env, TZ: 'UTC' }
  const { status, stdout, stderr } = spawnSync(process.execPath, [script, ...args], {
    encoding: 'utf8',
    env,
    maxBuffer: 1 << 27,
  })
  return { code: status, out: stdout, err: stderr, json: () => JSON.parse(stdout) as Record<string, never> }
}
