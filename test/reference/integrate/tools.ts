import { spawnSync } from 'node:child_process'
import { existsSync, mkdtempSync, readFileSync, rmSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { dirname, join, resolve } from 'node:path'
import type { Method } from '../../../main/integrate/method.ts'

/** Debian's Python, which has numpy and astropy; another one may come first in PATH. */
export const PYTHON = '/usr/bin/python3'
const openData = resolve(import.meta.dirname, '../../../../shared/opendata')

export const hasAstropy = spawnSync(PYTHON, ['-c', 'import astropy']).status === 0
export const hasFpack = spawnSync('fpack', ['-V']).error === undefined
export const hasFitsverify = spawnSync('fitsverify', ['-h']).error === undefined
/** A file of the open data sets, null where they are not beside the project. */
export const openFile = (name: string): string | null => (existsSync(openData) ? join(openData, name) : null)

/** The title with "not run" before it where what it needs is missing. */
export const titled = (text: string, there: boolean, what: string): string =>
  there ? text : `not run (${what} is missing): ${text}`

export function run(command: string, args: string[]): string {
  const { status, stdout, stderr, error } = spawnSync(command, args, { encoding: 'utf8', maxBuffer: 1 << 26 })
  if (error || status !== 0) throw new Error(`${command} ${args.join(' ')}: ${error ?? stderr}`)
  return stdout
}

/** What numpy and astropy make of these frames by each method, float32 row by row. */
export function expectedPixels(methods: Method[], paths: string[], flat?: { dark: string | null }): Float32Array[] {
  const out = join(mkdtempSync(join(tmpdir(), 'expected-')), 'masters.raw')
  run(PYTHON, [join(import.meta.dirname, 'expected.py'), JSON.stringify({ methods, flat }), out, ...paths])
  const all = new Float32Array(new Uint8Array(readFileSync(out)).buffer)
  rmSync(dirname(out), { recursive: true })
  const length = all.length / methods.length
  return methods.map((_, i) => all.subarray(i * length, (i + 1) * length))
}
