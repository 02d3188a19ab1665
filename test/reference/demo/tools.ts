import { execFileSync, spawnSync } from 'node:child_process'

/** The interpreter with astropy and numpy: the system's own, which may not be the first in PATH. */
const PYTHON = '/usr/bin/python3'

export const hasTool = (command: string, ...args: string[]): boolean =>
  spawnSync(command, args, { stdio: 'ignore' }).error === undefined

export const hasAstropy = (): boolean =>
  spawnSync(PYTHON, ['-c', 'import astropy, numpy'], { stdio: 'ignore' }).status === 0

/** Runs a Python script that prints one JSON document. */
export function askPython(script: string, ...args: string[]): unknown {
  return JSON.parse(execFileSync(PYTHON, ['-c', script, ...args], { encoding: 'utf8', maxBuffer: 1 << 26 }))
}
