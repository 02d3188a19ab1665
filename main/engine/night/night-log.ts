import { renameSync, rmSync, writeFileSync } from 'node:fs'
import { dirname, join } from 'node:path'
import { Refusal, type Answer } from '../../contract/index.ts'
import { framesOfNight } from '../../../db/tables/frames.ts'
import type { Core } from '../core.ts'
import { outPath } from '../files/out-path.ts'
import { framesAsCsv } from './csv.ts'

/** A night's log as a table. @throws Refusal where nothing is logged of it */
export function nightLog(core: Core, night: string): Answer<'nightLog'> {
  const frames = framesOfNight(core.db, night)
  if (!frames.length) throw new Refusal(`Nothing is logged of the night of ${night}.`)
  return { night, frames: frames.length, csv: framesAsCsv(frames) }
}

/** The same in a file, whole or not at all. @throws Refusal */
export function writeNightLog(core: Core, asked: string, out: string): Answer<'writeNightLog'> {
  const path = outPath(core, out, 'table')
  const { night, frames, csv } = nightLog(core, asked)
  // A name of its own: what stands beside the table is not ours to write over or to remove.
  const part = join(dirname(path), `.${process.pid}-${Math.random().toString(36).slice(2, 10)}.part`)
  try {
    writeFileSync(part, csv, { flag: 'wx' })
    renameSync(part, path)
  } catch (error) {
    rmSync(part, { force: true })
    const { code } = error as NodeJS.ErrnoException
    throw new Refusal(`"${path}" could not be written (${code}): choose a folder that may be written.`)
  }
  return { path, night, frames }
}
