import { existsSync, readdirSync, readFileSync, realpathSync } from 'node:fs'
import { join } from 'node:path'
import type { Plugin } from 'vite'

/** `/…/node_modules/@scope/name/file.js` → `/…/node_modules/@scope/name`; null for a file of our own. */
export function packageOf(module: string): string | null {
  return /^\0?(.*[\\/]node_modules[\\/](?:@[^\\/]+[\\/])?[^\\/]+)[\\/]/.exec(module)?.[1] ?? null
}

/** Name, version and licence of one package, with the text that its licence wants to go along. */
export function licenceOf(folder: string): string {
  const { name, version, license, author } = JSON.parse(readFileSync(join(folder, 'package.json'), 'utf8')) as {
    name: string
    version: string
    license?: string
    author?: string | { name: string }
  }
  const file = readdirSync(folder).find((one) => /^(licen[cs]e|copying)(\.|$)/i.test(one))
  const by = typeof author === 'string' ? author : author?.name
  const text = file ? readFileSync(join(folder, file), 'utf8').trim() : `By ${by ?? 'its authors'}.`
  return `${name} ${version}\nLicence: ${license ?? 'see below'}\n\n${text}\n`
}

/** Writes `licences.txt` beside what is built: of every library whose code or fonts went into it. */
export function licences(also: string[] = []): Plugin {
  return {
    name: 'nightshelf-licences',
    generateBundle(_options, bundle) {
      const modules = Object.values(bundle).flatMap((one) =>
        one.type === 'chunk' ? one.moduleIds : one.originalFileNames,
      )
      const folders = [...modules.map(packageOf), ...also].filter((folder) => folder !== null)
      const there = folders.filter((folder) => existsSync(join(folder, 'package.json')))
      const whole = [...new Set(there.map((folder) => realpathSync(folder)))].sort()
      const source = whole.map(licenceOf).join(`\n${'-'.repeat(72)}\n\n`)
      this.emitFile({ type: 'asset', fileName: 'licences.txt', source })
    },
  }
}
