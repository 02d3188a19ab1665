import { existsSync, mkdirSync, readdirSync, realpathSync, rmSync, statSync, writeFileSync } from 'node:fs'
import { copyFile, rename, rm, utimes } from 'node:fs/promises'
import { dirname, join, resolve } from 'node:path'
import { Refusal } from '../../contract/index.ts'
import { copyDatabase, type CheckCopy } from '../../../db/backup.ts'
import { fsyncPath } from '../../../db/fsync.ts'
import { isNetworkPath } from '../../../db/network-path.ts'
import { openDatabase } from '../../../db/open.ts'
import { openAlone } from '../../../db/replace.ts'
import { repath } from '../../../db/tables/paths.ts'
import { putSetting } from '../../../db/tables/settings.ts'
import { isWithin } from '../../watch/listing.ts'
import { hashFile } from '../library/hash-file.ts'
import { DATABASE, databaseSize, filesBelow, freeBytes, KEPT_FOLDERS, sizeOf } from './contents.ts'
import { dropSign, leaveSign } from './follow.ts'

/** Stands in a folder from the first file that is copied there until it is in use: a second try goes on there. */
const ARRIVING = 'arriving.json'
/** What a program that was started with a folder keeps there of its own, wherever the log is. */
const HOSTS_OWN = /^(window|window-place\.json|sessions\.json|moved\.json)$/
/** More than is copied: the log grows meanwhile, and SQLite wants room to work in. */
const SPARE_BYTES = 256 * 1024 * 1024

/** Name of the setting in which a log keeps where it was moved from. */
export const MOVED_FROM = 'movedFrom'

/**
 * Whether log and masters can be moved there.
 * @param watched folders that are watched: nothing is ever written there
 * @throws Refusal, in a sentence
 */
export function checkTarget(from: string, to: string, watched: readonly string[]): void {
  const [source, target] = [real(from), real(to)]
  if (target === source) throw new Refusal('The data folder is there already.')
  if (isNetworkPath(to))
    throw new Refusal(
      `"${to}" lies on another machine, where a database is not safe: choose a folder on this machine's own disk.`,
    )
  if (isWithin(target, source) || isWithin(source, target))
    throw new Refusal('Choose a folder that is neither inside the data folder nor around it.')
  const capture = watched.find((folder) => isWithin(target, real(folder)))
  if (capture) throw new Refusal(`"${to}" lies in the watched folder "${capture}", in which nothing is ever written.`)
  if (statSync(target, { throwIfNoEntry: false })?.isFile())
    throw new Refusal(`"${to}" is a file: choose a folder that is empty or not there yet.`)
  const there = existsSync(target) ? readdirSync(target).filter((name) => !HOSTS_OWN.test(name)) : []
  if (there.length && !there.includes(ARRIVING))
    throw new Refusal(`"${to}" is not empty: choose an empty folder, or one that is not there yet.`)
  const free = freeBytes(nearest(target))
  const needed = sizeToMove(from) + SPARE_BYTES
  if (free !== null && free < needed)
    throw new Refusal(
      `There is no room for it: ${Math.ceil(needed / 1e6)} MB are needed there and ${Math.floor(free / 1e6)} MB are free.`,
    )
}

export const sizeToMove = (from: string): number =>
  databaseSize(join(from, DATABASE)) +
  KEPT_FOLDERS.flatMap((kept) => filesBelow(join(from, kept)).map((file) => join(from, kept, file))).reduce(
    (sum, path) => sum + sizeOf(path),
    0,
  )

/**
 * Copies all files that are kept, each read again and compared; what was copied before and has not changed is left as it is.
 * The engine goes on meanwhile. @param tell bytes done, of all
 */
export async function copyFiles(
  from: string,
  to: string,
  signal: AbortSignal | undefined,
  tell: (done: number, total: number) => void,
): Promise<void> {
  mkdirSync(to, { recursive: true })
  writeFileSync(join(to, ARRIVING), JSON.stringify({ from }), { flush: true })
  const files = KEPT_FOLDERS.flatMap((kept) => filesBelow(join(from, kept)).map((file) => join(kept, file)))
    // A copy of the log that is being made, or a master: it is there whole when the engine is closed.
    .filter((file) => !/\.(unfinished|part)(-wal|-shm|-journal)?$/.test(file))
  const total = files.reduce((sum, file) => sum + sizeOf(join(from, file)), 0)
  let done = 0
  for (const file of files) {
    signal?.throwIfAborted()
    await copyOne(join(from, file), join(to, file), signal)
    done += sizeOf(join(to, file))
    tell(done, total)
  }
}

async function copyOne(from: string, to: string, signal: AbortSignal | undefined): Promise<void> {
  const source = statSync(from, { throwIfNoEntry: false })
  // The oldest backup or a small picture may go while others are copied.
  if (!source) return
  const there = statSync(to, { throwIfNoEntry: false })
  if (there?.size === source.size && Math.abs(there.mtimeMs - source.mtimeMs) < 2) return
  mkdirSync(dirname(to), { recursive: true })
  const unfinished = `${to}.unfinished`
  try {
    await copyFile(from, unfinished)
    fsyncPath(unfinished)
    const [original, copy] = [await hashFile(from, signal), await hashFile(unfinished, signal)]
    if (original.sha256 !== copy.sha256)
      throw new Refusal(`The copy of "${from}" does not read back as it was: check the disk of the new folder.`)
    await utimes(unfinished, source.atime, source.mtime)
    await rename(unfinished, to)
    fsyncPath(dirname(to))
  } finally {
    await rm(unfinished, { force: true })
  }
}

/**
 * The last step, with the engine's database closed: copies what is new since, then the log, checks it, and only then says
 * in the old folder where everything is now. A kill before that leaves the old folder in use, one after it the new one.
 * @throws Refusal where another program has the log open
 */
export async function finishMove(from: string, to: string, now: Date, check: CheckCopy): Promise<void> {
  const held = openAlone(join(from, DATABASE))
  try {
    await copyFiles(from, to, undefined, () => {})
    const arriving = join(to, `${DATABASE}.arriving`)
    await copyDatabase(held, arriving, { check })
    const log = openDatabase(arriving)
    repath(log, join(from, 'masters'), join(to, 'masters'))
    putSetting(log, MOVED_FROM, from)
    log.pragma('journal_mode = DELETE')
    log.close()
    fsyncPath(arriving)
    await rename(arriving, join(to, DATABASE))
    rmSync(join(to, ARRIVING), { force: true })
    fsyncPath(to)
    // Moved back: the folder is where a program looks first, and must not send it away again.
    dropSign(to)
    leaveSign(from, to, now)
  } finally {
    held.close()
  }
}

/** Nothing of a move that was given up stays, except what stood there before. */
export function dropArriving(to: string): void {
  if (!existsSync(join(to, ARRIVING))) return
  for (const kept of KEPT_FOLDERS) rmSync(join(to, kept), { recursive: true, force: true })
  for (const rest of ['', '-wal', '-shm']) rmSync(join(to, `${DATABASE}.arriving${rest}`), { force: true })
  rmSync(join(to, ARRIVING), { force: true })
}

function real(path: string): string {
  const existing = nearest(path)
  return resolve(
    realpathSync(existing),
    resolve(path)
      .slice(existing.length)
      .replace(/^[\\/]+/, ''),
  )
}

function nearest(path: string): string {
  for (let at = resolve(path); ; at = dirname(at)) if (existsSync(at) || dirname(at) === at) return at
}
