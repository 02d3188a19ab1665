import { existsSync, readdirSync } from 'node:fs'
import { join, resolve } from 'node:path'
import { describe, test } from 'vitest'
import { lacksAstropy, lacksProgram } from './tools.ts'

/** Open data sets and reference programs that lie beside the project; never copied into it. */
export const shared = resolve(import.meta.dirname, '../../../../shared')
export const opendata = join(shared, 'opendata')

/** What a group of tests needs: files below `../shared`, programs by name, astropy. */
export interface Needs {
  files?: string[]
  programs?: string[]
  astropy?: boolean
}

/** Like `describe`, but says "not run" and why where something that the tests need is missing. */
export function describeWith(
  { files = [], programs = [], astropy = false }: Needs,
  title: string,
  body: () => void,
): void {
  const missing = [
    ...files.filter((file) => !existsSync(join(shared, file))).map((file) => `../shared/${file}`),
    ...programs.filter(lacksProgram),
    ...(astropy && lacksAstropy() ? ['astropy'] : []),
  ]
  if (missing.length === 0) {
    describe(title, body)
    return
  }
  const why = `not run: ${missing.join(', ')} missing`
  console.warn(`${title}: ${why}.`)
  // The body is not even collected: it may ask the missing program for what its tests are made from.
  describe(title, () => test.skip(why))
}

/** All FITS files of the open data, as paths relative to it; empty where there are none. */
export function openFitsFiles(): string[] {
  if (!existsSync(opendata)) return []
  return readdirSync(opendata, { recursive: true, encoding: 'utf8' })
    .filter((name) => /\.(fits?|fts|fz)$/i.test(name))
    .sort()
}
