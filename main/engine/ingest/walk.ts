import { lstatSync, readdirSync, realpathSync, statSync, type Dirent, type Stats } from 'node:fs'
import { basename, join, resolve } from 'node:path'
import { isWithin } from '../../watch/listing.ts'
import { isFitsName } from '../../watch/names.ts'
import { fileStat, type FileStat } from '../../watch/stat.ts'

/** A file by a FITS name, with its stat, in no particular order. */
export interface FoundFile {
  path: string
  stat: FileStat
}

export interface Problem {
  path: string
  /** One sentence that says what to do. */
  reason: string
}

export type Found = { file: FoundFile } | { problem: Problem; counts: boolean }

/**
 * Everything by a FITS name below `root`, one folder at a time. Links are followed once and never back into a folder that is
 * on the way; whatever cannot be read is a problem of its own, and the walk goes on.
 * `counts` is true for what stands for one file that was seen, false for a folder.
 */
export function* walk(root: string): Generator<Found> {
  const path = resolve(root)
  let stat: Stats
  try {
    stat = statSync(path)
  } catch (error) {
    yield folderProblem(path, error)
    return
  }
  if (stat.isDirectory()) yield* walkFolder(path, { root: realpathSync(path), linked: new Set() })
  else yield foundFile(path, stat)
}

interface Way {
  /** The real path of the folder that was asked for: links to inside it lead to what is found anyway. */
  root: string
  /** Real paths of folders outside it that a link has led to. */
  linked: Set<string>
}

function* walkFolder(folder: string, way: Way): Generator<Found> {
  let entries: Dirent[]
  try {
    entries = readdirSync(folder, { withFileTypes: true })
  } catch (error) {
    yield folderProblem(folder, error)
    return
  }
  for (const entry of entries) {
    const path = join(folder, entry.name)
    const named = isFitsName(entry.name)
    if (entry.isDirectory()) {
      if (named) yield { problem: { path, reason: FOLDER_NAMED_SO }, counts: true }
      yield* walkFolder(path, way)
    } else if (entry.isSymbolicLink()) yield* walkLink(path, named, way)
    else if (named) yield look(path)
  }
}

function* walkLink(path: string, named: boolean, way: Way): Generator<Found> {
  let target: string
  try {
    target = realpathSync(path)
    if (statSync(target).isFile()) {
      if (named) yield look(path)
      return
    }
  } catch (error) {
    // A link to nowhere matters only where it bears a frame's name, or goes round in circles.
    const loop = (error as NodeJS.ErrnoException).code === 'ELOOP'
    if (named || loop) yield { problem: { path, reason: loop ? LOOP : reasonOf(error) }, counts: named }
    return
  }
  if (isWithin(standsAt(path), target)) yield { problem: { path, reason: LOOP }, counts: named }
  else if (!isWithin(standsAt(target), way.root) && !way.linked.has(target) && statSync(target).isDirectory()) {
    way.linked.add(target)
    yield* walkFolder(path, way)
  }
}

/** Where a link stands, not where it leads: its folder is real, its own name is kept. */
function standsAt(path: string): string {
  try {
    return lstatSync(path).isSymbolicLink() ? join(realpathSync(join(path, '..')), basename(path)) : realpathSync(path)
  } catch {
    return path
  }
}

function look(path: string): Found {
  try {
    return foundFile(path, statSync(path))
  } catch (error) {
    return { problem: { path, reason: reasonOf(error) }, counts: true }
  }
}

const foundFile = (path: string, stat: Stats): Found =>
  stat.isFile() ? { file: { path, stat: fileStat(stat) } } : { problem: { path, reason: NO_FILE }, counts: true }

const FOLDER_NAMED_SO =
  'This is a folder with the name of a FITS file: what is in it was logged, but give it another name.'
const NO_FILE = 'This is a pipe or a device, not a file: take it out of the folder of frames.'
const LOOP = 'This link leads back to a folder that it stands in: remove it, or point it elsewhere.'

const sentences: Record<string, string> = {
  ENOENT: 'This file is not there any more: look whether it was moved or deleted.',
  EACCES: 'This file may not be read: give your account the right to read it.',
  EPERM: 'This file may not be read: give your account the right to read it.',
  ELOOP: LOOP,
}
const folderSentences: Record<string, string> = {
  ENOENT: 'This folder does not exist: check its name, and whether its disk is connected.',
  ENOTDIR: 'A part of this path is a file, not a folder: check the path.',
  EACCES: 'This folder may not be read: give your account the right to read it.',
  EPERM: 'This folder may not be read: give your account the right to read it.',
  ELOOP: LOOP,
}

const codeOf = (error: unknown) => (error as NodeJS.ErrnoException).code ?? 'no code'
const reasonOf = (error: unknown) =>
  sentences[codeOf(error)] ?? `This file cannot be read (${codeOf(error)}): check the disk or the connection to it.`
const folderProblem = (path: string, error: unknown): Found => ({
  problem: {
    path,
    reason:
      folderSentences[codeOf(error)] ??
      `This folder cannot be read (${codeOf(error)}): check the disk or the connection to it.`,
  },
  counts: false,
})
