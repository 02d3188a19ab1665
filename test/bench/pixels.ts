import { spawnSync } from 'node:child_process'
import { existsSync, linkSync, mkdirSync, readdirSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join, resolve } from 'node:path'

/** What the two pixel benchmarks share: the reference programs beside the project, frames, and how times are told. */
export const WIDTH = 4144
export const HEIGHT = 2822
export const PYTHON = '/usr/bin/python3'
export const reference = (name: string): string => resolve(import.meta.dirname, '../../../shared/bench', name)
export const hasReference = existsSync(reference('make_darks.py'))
/** Stays between runs: making the frames takes longer than integrating them. Delete it at any time. */
export const work = join(tmpdir(), 'nightshelf-bench')

/** Where the built thread scripts stand: what users run, without the sources' own start-up. */
export const builtScript = (name: string): URL => new URL(`../../out/main/${name}-worker.js`, import.meta.url)

export const isBuilt = (name: string): boolean => existsSync(builtScript(name))

export function run(command: string, args: string[]): string {
  const { status, stdout, stderr, error } = spawnSync(command, args, { encoding: 'utf8', maxBuffer: 1 << 26 })
  if (error || status !== 0) throw new Error(`${command} ${args.join(' ')}: ${error ?? stderr}`)
  return stdout
}

/** Twenty simulated darks of 11.7 million pixels, made once. */
export function darks(): string[] {
  const folder = join(work, 'darks')
  if (!existsSync(join(folder, 'dark_019.fits'))) {
    mkdirSync(work, { recursive: true })
    run(PYTHON, [reference('make_darks.py'), folder])
  }
  return readdirSync(folder)
    .filter((name) => name.endsWith('.fits'))
    .sort()
    .map((name) => join(folder, name))
}

/** `count` frames: the twenty, and hard links to them. */
export function manyDarks(count: number): string {
  const folder = join(work, `darks-${count}`)
  const twenty = darks()
  mkdirSync(folder, { recursive: true })
  for (let k = 0; k < count; k++) {
    const link = join(folder, `dark_${String(k).padStart(3, '0')}.fits`)
    if (!existsSync(link)) linkSync(twenty[k % twenty.length], link)
  }
  return folder
}

export const secondsIn = (text: string): number => Number(/([\d.]+) s/.exec(text)![1])

export function median(values: number[]): number {
  const sorted = [...values].sort((a, b) => a - b)
  return (sorted[(sorted.length - 1) >> 1] + sorted[sorted.length >> 1]) / 2
}

export const spread = (values: number[]): string =>
  `${Math.min(...values).toFixed(3)}–${Math.max(...values).toFixed(3)} s`
