import { statSync, type Stats } from 'node:fs'
import { stat as statOf } from 'node:fs/promises'
import { lookAgain, type Before, type Look } from './complete.ts'
import { identify, Links, listFolder, type Identity, type Listing } from './listing.ts'
import { fileStat, type FileStat } from './stat.ts'

/** What stands at a path. */
export interface Seen {
  stat: FileStat
  device: number
  folder: boolean
}

/**
 * How one chosen folder and what is below it are looked at. A near disk answers at once; a far one through a thread of its own,
 * since a server that has gone may never answer, and nothing else must wait for it.
 */
export interface Disk {
  /** Null where nothing stands. @throws the system's error where that cannot be told */
  see(path: string): Seen | null | Promise<Seen | null>
  /** The same for a folder: never in the way of anything else. */
  seeFolder(path: string): Promise<Seen | null>
  /** Begins anew to follow links; before the first `list`. @throws the system's error */
  followLinks(): Promise<void>
  /** @throws the system's error */
  list(path: string): Promise<Listing>
  /** Which folder stands at the chosen path. @throws the system's error */
  identify(): Promise<Identity>
  /** @param before what an earlier look found, where the file was short of what it announced */
  look(path: string, before: Before | null): Look | Promise<Look>
  close(): void
}

const seen = (stats: Stats): Seen => ({ stat: fileStat(stats), device: stats.dev, folder: stats.isDirectory() })

/** A disk of this machine. */
export function nearDisk(root: string): Disk {
  let links: Links | null = null
  return {
    see(path) {
      const stats = statSync(path, { throwIfNoEntry: false })
      return stats ? seen(stats) : null
    },
    seeFolder: (path) =>
      statOf(path).then(seen, (error: NodeJS.ErrnoException) => {
        if (error.code === 'ENOENT' || error.code === 'ENOTDIR') return null
        throw error
      }),
    async followLinks() {
      links = await Links.below(root)
    },
    async list(path) {
      links ??= await Links.below(root)
      return listFolder(path, links)
    },
    identify: () => identify(root),
    look: lookAgain,
    close() {},
  }
}
