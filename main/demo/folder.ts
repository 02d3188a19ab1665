import { existsSync, mkdirSync, readdirSync, readFileSync, realpathSync, statfsSync, statSync } from 'node:fs'
import { dirname, isAbsolute, join, relative, resolve } from 'node:path'
import { Refusal } from '../contract/index.ts'
import type { NightIdentity } from './truth-file.ts'

export interface DemoFolders {
  /** What was asked for: everything is written below it. */
  root: string
  capture: string
  library: string
  /** The ground truth, which also marks the folder as ours. */
  truth: string
}

export const foldersOf = (dir: string): DemoFolders => {
  const root = resolve(dir)
  return { root, capture: join(root, 'capture'), library: join(root, 'library'), truth: join(root, 'truth.json') }
}

/**
 * Makes the folder, or sees that it holds this very night.
 * @throws Refusal where it holds anything else: a demo never mixes with somebody's files
 */
export function claimFolder(folders: DemoFolders, identity: NightIdentity): void {
  const { root, truth } = folders
  if (existsSync(root) && !statSync(root).isDirectory())
    throw new Refusal(`${root} is a file: name a new or empty folder for the demo night.`)
  if (!existsSync(root)) return makeFolder(root, root)
  if (listing(root).length === 0) return
  const found = existsSync(truth) ? readIdentity(truth) : null
  if (!found) throw new Refusal(`${root} holds other files: name a new or empty folder for the demo night.`)
  if (found.night !== identity.night || found.seed !== identity.seed || sizeOf(found) !== sizeOf(identity))
    throw new Refusal(
      `${root} already holds the demo night of ${found.night} (seed ${found.seed}, ${sizeOf(found)}): ask for that one, or name another folder.`,
    )
}

function listing(root: string): string[] {
  try {
    return readdirSync(root)
  } catch (error) {
    throw new Refusal(`${root} cannot be read (${(error as NodeJS.ErrnoException).code}): name a folder of your own.`)
  }
}

/** Makes a folder below the root. @throws Refusal where a link would lead out of it, or it cannot be made */
export function makeFolder(root: string, folder: string): void {
  try {
    makeWithParents(folder)
  } catch (error) {
    const { code } = error as NodeJS.ErrnoException
    throw new Refusal(`${folder} cannot be made (${code}): name a folder that you may write to.`)
  }
  const inside = relative(realpathSync(root), realpathSync(folder))
  if (inside.startsWith('..') || isAbsolute(inside))
    throw new Refusal(`${folder} is a link that leads out of ${root}: name another folder for the demo night.`)
}

/** Node's own recursive mkdir never returns where the kernel says that an existing parent does not exist, as in /proc. */
function makeWithParents(folder: string): void {
  if (existsSync(folder)) return
  makeWithParents(dirname(folder))
  mkdirSync(folder)
}

/** @throws Refusal where the disk has not that many bytes left */
export function assureRoom(root: string, bytes: number): void {
  const { bavail, bsize } = statfsSync(root)
  if (bavail * bsize < bytes)
    throw new Refusal(
      `The demo night needs ${gigabytes(bytes)} and ${root} has room for ${gigabytes(bavail * bsize)}: make room, or ask for a smaller --size.`,
    )
}

const gigabytes = (bytes: number) => `${(bytes / 1e9).toFixed(1)} GB`
const sizeOf = ({ width, height }: NightIdentity) => `${width}x${height}`

function readIdentity(truth: string): NightIdentity | null {
  try {
    return (JSON.parse(readFileSync(truth, 'utf8')) as { demoNight?: NightIdentity }).demoNight ?? null
  } catch {
    return null
  }
}
