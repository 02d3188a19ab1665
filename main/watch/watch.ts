import { resolve } from 'node:path'
import { systemClock, type WatchClock } from './clock.ts'
import { nearDisk, type Disk } from './disk.ts'
import type { WatchEvent } from './events.ts'
import { farDisk } from './far-disk.ts'
import { systemHints, type HintSource } from './hints.ts'
import { defaultIntervals, type Intervals } from './intervals.ts'
import { isNetworkPath } from './mounts.ts'
import type { FileStat } from './stat.ts'
import { WatchedFolder, type Surroundings } from './watched.ts'

export type { WatchClock } from './clock.ts'
export type { WatchEvent } from './events.ts'
export type { Intervals } from './intervals.ts'
export type { FileStat } from './stat.ts'

export interface FolderToWatch {
  path: string
  /** Look every few seconds instead of listening; where it is not said, network mounts are polled and others are not. */
  polling?: boolean
}

export interface WatchOptions {
  folders?: readonly (string | FolderToWatch)[]
  /** Told everything. A promise returned for an event of a sweep holds the sweep until the work has been kept up with. */
  on: (event: WatchEvent) => void | Promise<void>
  /** True if this file, as it is, was taken before: it is not opened then. Without it everything is told afresh. */
  isKnown?: (path: string, stat: FileStat) => boolean
  clock?: WatchClock
  intervals?: Partial<Intervals>
  hints?: HintSource
  isNetwork?: (path: string) => boolean
  /** @param far true for a folder of another machine, or one that the user says to poll: it may never answer */
  diskOf?: (root: string, far: boolean) => Disk
}

export interface Watcher {
  /** Begins to watch a folder; resolves when everything in it was looked at once. A folder that is watched already stays so. */
  add(folder: string | FolderToWatch): Promise<void>
  /** Stops watching it. Nothing is told as gone. */
  remove(path: string): Promise<void>
  /** Looks at everything now: after a sleep, after an error, because the user asks. */
  rescan(): Promise<void>
  readonly folders: readonly { path: string; reachable: boolean; polling: boolean; files: number; unfinished: number }[]
  /** Everything in the folders given at the start was looked at once. */
  readonly ready: Promise<void>
  /** Resolves when nothing is being looked at (files may still be waited for). */
  settled(): Promise<void>
  close(): Promise<void>
}

/**
 * Watches folders and everything below them for FITS files, and tells of each when its bytes are there. Nothing is ever written,
 * renamed, locked or deleted in them. Folders that are not there (yet) are told as lost and looked for.
 */
export function watchFolders(options: WatchOptions): Watcher {
  const around: Surroundings = {
    clock: options.clock ?? systemClock,
    intervals: { ...defaultIntervals, ...options.intervals },
    hints: options.hints ?? systemHints,
    isKnown: options.isKnown ?? (() => false),
    tell: options.on,
  }
  const isNetwork = options.isNetwork ?? isNetworkPath
  const diskOf = options.diskOf ?? ((root: string, far: boolean) => (far ? farDisk(root) : nearDisk(root)))
  const watched = new Map<string, WatchedFolder>()

  const add = async (folder: string | FolderToWatch): Promise<void> => {
    const { path, polling } = typeof folder === 'string' ? { path: folder, polling: undefined } : folder
    const full = resolve(path)
    if (watched.has(full)) return
    const network = isNetwork(full)
    const one = new WatchedFolder(full, polling ?? network, diskOf(full, network || polling === true), around)
    watched.set(full, one)
    await one.begin()
  }
  const all = () => [...watched.values()]

  return {
    add,
    async remove(path) {
      const one = watched.get(resolve(path))
      watched.delete(resolve(path))
      await one?.close()
    },
    async rescan() {
      await Promise.all(all().map((one) => one.rescan()))
    },
    get folders() {
      return all().map(({ path, reachable, polling, files, unfinished }) => ({
        path,
        reachable: reachable === true,
        polling,
        files,
        unfinished,
      }))
    },
    ready: Promise.all((options.folders ?? []).map(add)).then(() => undefined),
    async settled() {
      await Promise.all(all().map((one) => one.settled()))
    },
    async close() {
      await Promise.all(all().map((one) => one.close()))
      watched.clear()
    },
  }
}
