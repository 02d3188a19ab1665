import { resolve } from 'node:path'
import { parseArgs } from 'node:util'
import { defaultDataDir } from '../data-dir.ts'

/**
 * What `npm start -- …` passes on. Unknown options are Chromium's and left alone.
 * @param argv as Electron has it: the program, the folder of the checkout, then the options
 */
export function readArguments(argv: string[]): { dataDir: string; folders: string[]; quietly: boolean } {
  const { values } = parseArgs({
    args: argv.slice(1),
    options: { data: { type: 'string' }, watch: { type: 'string', multiple: true }, quietly: { type: 'boolean' } },
    strict: false,
  })
  return {
    dataDir: typeof values.data === 'string' ? resolve(values.data) : defaultDataDir(),
    folders: (values.watch ?? []).filter((folder) => typeof folder === 'string').map((folder) => resolve(folder)),
    quietly: values.quietly === true,
  }
}
