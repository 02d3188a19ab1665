import { basename, dirname, join, sep } from 'node:path'
import { setImmediate as breathe } from 'node:timers/promises'
import type { Disk, Seen } from './disk.ts'
import { folderReason, isSamePlace, type Identity, type Listing } from './listing.ts'
import { isSame, type FileStat } from './stat.ts'

/** What is remembered of one file: as it was when its fate was told. */
interface Remembered {
  stat: FileStat
  /** False while it is waited for. */
  told: boolean
  broken: boolean
}

interface SubFolder {
  modifiedMs: number
  /** When it was listed last, and when something was last seen to happen in it. */
  listedAt: number
  activeAt: number
  device: number
  files: Map<string, Remembered>
}

/** Whom a folder tells what it sees. */
export interface Listener {
  now(): number
  /** True if this file, as it is, was taken before. */
  isKnown(path: string, stat: FileStat): boolean
  /** A file to be looked at; a promise holds the sweep until it is kept up with. */
  seen(path: string, rewritten: boolean): void | Promise<void>
  gone(path: string): void
  problem(path: string, reason: string): void
  /** A folder was listed, and each problem in it told. */
  listed(path: string, listing: Listing): void
  /** A folder was found, or went. */
  entered(path: string): void
  left(path: string): void
}

const hour = 3_600_000
/** Times of some file systems are this coarse: a folder listed so soon after its change may have changed again under the same time. */
const coarseMs = 4_000
/** Nobody waits longer than this for the loop because of a sweep. */
const sliceMs = 8

/**
 * One chosen folder and everything below it, as last seen. Sweeps (everything) and glances (what changed) keep it true by
 * themselves; hints only make it sooner. Reads names and times; opens nothing, writes nothing.
 */
export class WatchedTree {
  readonly path: string
  /** The folder that `path` led to when the watch began, or began again. */
  identity: Identity | null = null
  readonly #disk: Disk
  readonly #listener: Listener
  #folders = new Map<string, SubFolder>()
  #follows = false
  #closed = false

  constructor(path: string, disk: Disk, listener: Listener) {
    this.path = path
    this.#disk = disk
    this.#listener = listener
  }

  close(): void {
    this.#closed = true
  }

  /** Forgets everything, telling nothing: another disk stands in this place. */
  forget(): void {
    for (const folder of this.#folders.keys()) this.#listener.left(folder)
    this.#folders = new Map()
    this.#follows = false
  }

  get folders(): Iterable<string> {
    return this.#folders.keys()
  }

  get files(): number {
    let count = 0
    for (const folder of this.#folders.values()) count += folder.files.size
    return count
  }

  /** Looks at every folder and file. @returns the number of files */
  async sweep(): Promise<number> {
    await this.#disk.followLinks()
    this.#follows = true
    const visited = new Set<string>()
    await this.#walk(this.path, visited)
    if (this.#closed || !(await this.#isItself())) return this.files
    // A folder that came while we looked was not visited, and is there all the same.
    for (const path of [...this.#folders.keys()])
      if (!visited.has(path) && !(await this.#isThere(path))) await this.#vanish(path)
    return this.files
  }

  /**
   * Looks at every folder's time of change, and lists those that changed since they were listed.
   * @param eager lists those in which something happened in the last hour too: some servers keep no such times
   */
  async glance(eager: boolean): Promise<void> {
    for (const [path, folder] of [...this.#folders]) {
      if (this.#closed) return
      const seen = await this.#disk.seeFolder(path).catch(() => null)
      if (!seen) {
        await this.#missing(path)
        continue
      }
      const { modifiedMs } = seen.stat
      const changed = modifiedMs !== folder.modifiedMs || folder.listedAt - modifiedMs < coarseMs
      const active = eager && this.#listener.now() - folder.activeAt < hour
      if (changed || active) await this.#list(path, seen, false)
    }
  }

  /** Something may have happened at this path: looks at it alone. */
  async hint(path: string, named: boolean): Promise<void> {
    const answer = this.#disk.see(path)
    const seen = answer instanceof Promise ? await answer : answer
    if (!seen) return this.#missing(path)
    if (seen.folder) {
      if (this.#folders.has(path)) await this.#list(path, seen, false)
      else if (this.#follows) await this.#walk(path, new Set())
    } else if (named) await this.#touch(path, seen)
  }

  /** The fate of a file was told. */
  told(path: string, stat: FileStat, broken: boolean): void {
    const [folder, name] = this.#place(path)
    folder?.files.set(name, { stat, told: true, broken })
  }

  /** A file that was waited for is not there any more. @returns whether it had been told of before */
  lost(path: string): boolean {
    const [folder, name] = this.#place(path)
    const was = folder?.files.get(name)
    folder?.files.delete(name)
    return was?.told ?? false
  }

  async #walk(path: string, visited: Set<string>): Promise<void> {
    const below = [path]
    for (let at = below.pop(); at !== undefined && !this.#closed; at = below.pop()) {
      if (visited.has(at)) continue
      visited.add(at)
      const seen = await this.#disk.seeFolder(at).catch(() => null)
      const listing = seen && (await this.#list(at, seen, true, visited))
      if (listing) for (const name of listing.folders.toReversed()) below.push(join(at, name))
    }
  }

  /** Lists one folder and compares it with what was there. `thorough`: each file's size and time too, not its name alone. */
  async #list(path: string, seen: Seen, thorough: boolean, visited?: Set<string>): Promise<Listing | null> {
    if (!this.#follows) return null
    let listing: Listing
    try {
      listing = await this.#disk.list(path)
    } catch (error) {
      if ((error as NodeJS.ErrnoException).code === 'ENOENT') return null
      this.#listener.problem(path, folderReason(error))
      // What cannot be listed is not gone: keep what was below it.
      for (const known of this.#folders.keys()) if (known.startsWith(path + sep)) visited?.add(known)
      return null
    }
    for (const { path: at, reason } of listing.problems) this.#listener.problem(at, reason)
    this.#listener.listed(path, listing)
    const folder = this.#enter(path, seen)
    const names = new Set(listing.files)
    for (const name of [...folder.files.keys()])
      // A name may have come while the folder was being listed.
      if (!names.has(name) && !(await this.#isThere(join(path, name)))) this.#remove(folder, path, name)
    await this.#compare(path, folder, listing.files, thorough)
    if (!thorough)
      for (const name of listing.folders)
        if (!this.#folders.has(join(path, name))) await this.#walk(join(path, name), new Set())
    return listing
  }

  async #compare(path: string, folder: SubFolder, names: string[], thorough: boolean): Promise<void> {
    let began = performance.now()
    for (const name of names) {
      if (this.#closed) return
      if (!thorough && folder.files.get(name)?.told) continue
      const file = join(path, name)
      try {
        const answer = this.#disk.see(file)
        const seen = answer instanceof Promise ? await answer : answer
        if (seen) await this.#touch(file, seen)
      } catch {
        await this.#listener.seen(file, false)
      }
      if (performance.now() - began < sliceMs) continue
      await breathe()
      began = performance.now()
    }
  }

  async #touch(path: string, { stat }: Seen): Promise<void> {
    const [folder, name] = this.#place(path)
    if (!folder) return
    const was = folder.files.get(name)
    if (was?.told && isSame(was.stat, stat) && !(was.broken && was.stat.changedMs !== stat.changedMs)) return
    folder.activeAt = this.#listener.now()
    if (!was && this.#listener.isKnown(path, stat)) {
      folder.files.set(name, { stat, told: true, broken: false })
      return
    }
    const rewritten = was?.told === true && !was.broken
    if (!was) folder.files.set(name, { stat, told: false, broken: false })
    await this.#listener.seen(path, rewritten)
  }

  #enter(path: string, { stat: { modifiedMs }, device }: Seen): SubFolder {
    const now = this.#listener.now()
    const known = this.#folders.get(path)
    // Another device under the same path: a disk came or went below the chosen folder, and nothing on it is gone.
    if (known && known.device === device) {
      if (known.modifiedMs !== modifiedMs) known.activeAt = now
      known.modifiedMs = modifiedMs
      known.listedAt = now
      return known
    }
    const folder: SubFolder = {
      modifiedMs,
      listedAt: now,
      activeAt: modifiedMs,
      device,
      files: new Map(),
    }
    this.#folders.set(path, folder)
    if (!known) this.#listener.entered(path)
    return folder
  }

  /** True while the chosen folder is there and the same: only then can something in it be gone. */
  async #isItself(): Promise<boolean> {
    const now = await this.#disk.identify().catch(() => null)
    return now !== null && this.identity !== null && isSamePlace(now, this.identity)
  }

  /** Nothing at this path: a file or a folder is gone, if the chosen folder itself is there. */
  async #missing(path: string): Promise<void> {
    if (path === this.path || !(await this.#isItself())) return
    if (this.#folders.has(path)) return this.#vanish(path)
    const [folder, name] = this.#place(path)
    if (folder?.files.has(name)) this.#remove(folder, dirname(path), name)
  }

  async #vanish(path: string): Promise<void> {
    const device = await this.#deviceOf(path)
    for (const [at, folder] of [...this.#folders]) {
      if (at !== path && !at.startsWith(path + sep)) continue
      // Its disk went, if what is there now lies on another one: that is out of reach, not gone.
      if (device === folder.device) for (const name of [...folder.files.keys()]) this.#remove(folder, at, name)
      this.#folders.delete(at)
      this.#listener.left(at)
    }
  }

  #remove(folder: SubFolder, path: string, name: string): void {
    const was = folder.files.get(name)
    folder.files.delete(name)
    if (was) this.#listener.gone(join(path, name))
  }

  #place(path: string): [SubFolder | undefined, string] {
    return [this.#folders.get(dirname(path)), basename(path)]
  }

  async #isThere(path: string): Promise<boolean> {
    try {
      return (await this.#disk.see(path)) !== null
    } catch {
      return true
    }
  }

  /** The device of the nearest folder upwards that is there. */
  async #deviceOf(path: string): Promise<number | null> {
    for (let at = path; ; at = dirname(at)) {
      try {
        const seen = await this.#disk.see(at)
        if (seen) return seen.device
      } catch {
        return null
      }
      if (at === dirname(at)) return null
    }
  }
}
