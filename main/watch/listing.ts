import { lstat, readdir, realpath, stat } from 'node:fs/promises'
import type { Dirent } from 'node:fs'
import { join, sep } from 'node:path'
import { notAFile } from './complete.ts'
import { isFitsName } from './names.ts'

export interface Problem {
  path: string
  /** One sentence that says what to do. */
  reason: string
}

/** What stands in one folder: names of files that may be frames, and of folders to look into. Sorted by name. */
export interface Listing {
  files: string[]
  folders: string[]
  problems: Problem[]
}

/** Where links have led below one chosen folder: each place outside is entered once, a way back never. */
export class Links {
  readonly #realRoot: string
  readonly #entered = new Map<string, string>()

  private constructor(realRoot: string) {
    this.#realRoot = realRoot
  }

  static async below(root: string): Promise<Links> {
    return new Links(await realpath(root))
  }

  /** `file`; `folder` to be entered; `loop` leads back to where it stands; `elsewhere` is reached on another way, or is nothing. */
  async follow(path: string): Promise<'file' | 'folder' | 'loop' | 'elsewhere' | 'other'> {
    const target = await realpath(path)
    const there = await stat(target)
    if (there.isFile()) return 'file'
    if (!there.isDirectory()) return 'other'
    const standsIn = await realpath(join(path, '..'))
    if (isWithin(standsIn, target)) return 'loop'
    if (isWithin(target, this.#realRoot)) return 'elsewhere'
    const by = this.#entered.get(target) ?? path
    this.#entered.set(target, by)
    return by === path ? 'folder' : 'elsewhere'
  }
}

/** True of the folder itself, too. Compares the paths as they are. */
export const isWithin = (path: string, folder: string) =>
  path === folder || path.startsWith(folder.endsWith(sep) ? folder : folder + sep)

const LOOP = 'This link leads back to a folder that it stands in: remove it, or point it elsewhere.'

/** Lists one folder. Nothing in it is opened. @throws the system's error if the folder itself cannot be listed */
export async function listFolder(path: string, links: Links): Promise<Listing> {
  const listing: Listing = { files: [], folders: [], problems: [] }
  for (const entry of await readdir(path, { withFileTypes: true })) await sort(entry, path, links, listing)
  listing.files.sort()
  listing.folders.sort()
  return listing
}

async function sort(entry: Dirent, folder: string, links: Links, listing: Listing): Promise<void> {
  const { name } = entry
  const named = isFitsName(name)
  const path = join(folder, name)
  const kind = entry.isSymbolicLink() ? await followed(path, links, named, listing) : kindOf(entry)
  if (kind === 'file') {
    if (named) listing.files.push(name)
  } else if (kind === 'folder') {
    if (named) listing.problems.push({ path, reason: notAFile(true) })
    listing.folders.push(name)
  } else if (kind === 'other' && named) listing.problems.push({ path, reason: notAFile(false) })
}

const kindOf = (entry: Dirent) => (entry.isFile() ? 'file' : entry.isDirectory() ? 'folder' : 'other')

async function followed(path: string, links: Links, named: boolean, listing: Listing) {
  try {
    const kind = await links.follow(path)
    if (kind === 'loop') listing.problems.push({ path, reason: LOOP })
    return kind
  } catch (error) {
    const loop = (error as NodeJS.ErrnoException).code === 'ELOOP'
    if (named || loop) listing.problems.push({ path, reason: loop ? LOOP : fileReason(error) })
    return 'elsewhere'
  }
}

const sentences: Record<string, string> = {
  ENOENT: 'is not there: check its name, and whether its disk is connected.',
  ENOTDIR: 'is a file, or below one: check the path.',
  EACCES: 'may not be read: give your account the right to read it.',
  EPERM: 'may not be read: give your account the right to read it.',
  ELOOP: 'is a link that leads back to itself: remove it, or point it elsewhere.',
  ENOTCONN: 'does not answer: check the connection to its disk.',
  ESTALE: 'does not answer: check the connection to its disk.',
  ETIMEDOUT: 'does not answer: check the connection to its disk.',
}
const sentence = (error: unknown) => {
  const code = (error as NodeJS.ErrnoException).code ?? 'no code'
  return sentences[code] ?? `cannot be read (${code}): check the disk or the connection to it.`
}
export const folderReason = (error: unknown): string => `This folder ${sentence(error)}`
export const fileReason = (error: unknown): string => `This file ${sentence(error)}`

/** What tells one folder from another that stands in its place. */
export interface Identity {
  device: number
  inode: number
  /** True where another file system begins here. */
  mount: boolean
}

export const isSamePlace = (a: Identity, b: Identity): boolean => a.device === b.device && a.inode === b.inode

/** @throws the system's error if it is not there, ENOTDIR if it is no folder */
export async function identify(path: string): Promise<Identity> {
  const here = await stat(path)
  if (!here.isDirectory()) throw Object.assign(new Error('not a folder'), { code: 'ENOTDIR' })
  const parent = await lstat(join(path, '..')).catch(() => here)
  return { device: here.dev, inode: here.ino, mount: parent.dev !== here.dev }
}
