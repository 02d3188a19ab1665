import { existsSync, readFileSync, renameSync, rmSync, writeFileSync } from 'node:fs'
import { join, resolve } from 'node:path'
import { z } from 'zod'
import { Refusal } from '../../contract/index.ts'
import { fsyncPath } from '../../../db/fsync.ts'

const SIGN = 'moved.json'
const signSchema = z.object({ to: z.string().min(1), at: z.iso.datetime() })
type Sign = z.infer<typeof signSchema>

/** A folder that log and masters were moved out of says where they went; this is written last, and decides. */
export function leaveSign(from: string, to: string, now: Date): void {
  const path = join(from, SIGN)
  writeFileSync(`${path}.unfinished`, JSON.stringify({ to, at: now.toISOString() }), { flush: true })
  renameSync(`${path}.unfinished`, path)
  fsyncPath(from)
}

/** Moved back: the folder is itself again. */
export const dropSign = (folder: string): void => rmSync(join(folder, SIGN), { force: true })

/**
 * The folder in which log and masters stand now, from the one that a program was started with.
 * @throws Refusal where they were moved to a folder that is not there: an empty log must not take their place
 */
export function followMoves(start: string): string {
  const signs: { folder: string; sign: Sign }[] = []
  let folder = resolve(start)
  for (let sign = readSign(folder); sign; sign = readSign(folder)) {
    if (signs.some((known) => known.folder === folder)) return newestOf(signs)
    signs.push({ folder, sign })
    folder = resolve(sign.to)
  }
  if (signs.length && !existsSync(folder))
    throw new Refusal(
      `The data folder was moved to "${folder}", which is not there: connect its disk, or name another data folder with --data.`,
    )
  return folder
}

/** Moved there and back again, and killed between the two: the last move holds. */
const newestOf = (signs: { sign: Sign }[]): string =>
  resolve(signs.reduce((a, b) => (a.sign.at >= b.sign.at ? a : b)).sign.to)

function readSign(folder: string): Sign | null {
  let text: string
  try {
    text = readFileSync(join(folder, SIGN), 'utf8')
  } catch {
    return null
  }
  try {
    return signSchema.parse(JSON.parse(text))
  } catch {
    throw new Refusal(
      `The file "${join(folder, SIGN)}" should say where the data folder was moved to, and cannot be read: write {"to": "FOLDER", "at": "2026-01-01T00:00:00Z"} into it, or delete it to use this folder again.`,
    )
  }
}
