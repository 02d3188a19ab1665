import { spawnSync } from 'node:child_process'

/** Debian's Python with astropy and numpy; the one first in PATH may be another. */
export const PYTHON = '/usr/bin/python3'

let noAstropy: boolean | undefined

export function lacksAstropy(): boolean {
  return (noAstropy ??= spawnSync(PYTHON, ['-c', 'import astropy.io.fits, numpy']).status !== 0)
}

export function lacksProgram(name: string): boolean {
  return spawnSync('sh', ['-c', `command -v ${name}`]).status !== 0
}

/**
 * Runs a Python script that prints one JSON document.
 * @param args what the script finds in `sys.argv[1:]`
 */
export function python<T>(script: string, args: string[] = []): T {
  const run = spawnSync(PYTHON, ['-W', 'ignore', '-c', script, ...args], {
    encoding: 'utf8',
    maxBuffer: 1 << 28,
  })
  if (run.status !== 0) throw new Error(`The reference script failed: ${run.stderr}`)
  return JSON.parse(run.stdout) as T
}

/** What `fitsverify` says about a file: its whole report, and whether that is "no error, no warning". */
export function fitsverify(path: string): { clean: boolean; report: string } {
  const { stdout } = spawnSync('fitsverify', [path], { encoding: 'utf8' })
  return { clean: stdout.includes('Verification found 0 warning(s) and 0 error(s).'), report: stdout }
}

/** Unpacks a tile-compressed file with CFITSIO's own program; false where it will not. */
export function funpack(from: string, to: string): boolean {
  return spawnSync('funpack', ['-O', to, from]).status === 0
}
