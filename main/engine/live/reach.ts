import { dirname, sep } from 'node:path'
import { lstat } from 'node:fs/promises'
import { setImmediate as breathe } from 'node:timers/promises'
import type { Readable } from '../../../db/handle.ts'
import { pathsBelow } from '../../../db/tables/files.ts'
import { isBelow } from '../ingest/describer.ts'

/** Paths that are compared before a frame that landed meanwhile has its turn. */
const AT_ONCE = 2_000

/**
 * Which logged files are out of reach: those of a folder that is lost, and those that another folder or disk in its place does
 * not hold. Nothing of them counts as deleted.
 */
export class Reach {
  /** Lost folders, and since when (UTC). */
  readonly lost = new Map<string, string>()
  /** Folders in whose place another stands that was not looked through yet. */
  readonly #replaced = new Set<string>()
  /** What was seen of a folder while it is looked through for the first time. */
  readonly #present = new Map<string, Set<string>>()
  #away = new Set<string>()

  isOut(path: string): boolean {
    if (this.#away.has(path)) return true
    for (const folder of this.lost.keys()) if (isBelow(path, folder)) return true
    return this.#replaced.size > 0 && this.isReplaced(path)
  }

  /** True where other bytes may stand at this path than those that were logged from it, and both count. */
  isReplaced(path: string): boolean {
    if (this.#away.has(path)) return true
    for (const folder of this.#replaced) if (isBelow(path, folder)) return true
    return false
  }

  /** A folder is going to be looked through. */
  begin(folder: string, replaced: boolean): void {
    this.#present.set(folder, new Set())
    if (replaced) this.#replaced.add(folder)
  }

  forget(folder: string): void {
    this.lost.delete(folder)
    this.#replaced.delete(folder)
    this.#present.delete(folder)
    this.#away = new Set([...this.#away].filter((path) => !isBelow(path, folder)))
  }

  /** Something stands at this path. `known`: the bytes that were logged from it. */
  saw(path: string, known: boolean): void {
    if (known) this.#away.delete(path)
    for (const [folder, present] of this.#present) if (isBelow(path, folder)) present.add(path)
  }

  /** The frame that stood here has been logged as out of reach, and another one from this path. */
  settle(path: string): void {
    this.#away.delete(path)
  }

  /**
   * A folder was looked through for the first time since the program began, or since another stands in its place. A folder in it
   * that holds some of its logged files has lost the others; one that holds none is another disk's, or its disk is away.
   * @returns the files that are gone
   */
  async compare(db: Readable, folder: string): Promise<string[]> {
    const present = this.#present.get(folder)
    if (!present) return []
    const seen = new Map<string, { any: boolean; absent: string[] }>()
    let last = ''
    for (;;) {
      const paths = pathsBelow(db, folder, sep as '/' | '\\', last, AT_ONCE)
      for (const path of paths) {
        const at = dirname(path)
        const beside = seen.get(at) ?? { any: false, absent: [] }
        seen.set(at, beside)
        if (present.has(path) && !this.#replaced.has(folder)) beside.any = true
        else if (!present.has(path)) beside.absent.push(path)
      }
      if (paths.length < AT_ONCE) break
      last = paths[paths.length - 1]
      await breathe()
    }
    const gone: string[] = []
    for (const { any, absent } of seen.values())
      for (const path of absent) {
        // It may have come while the folder was looked through, or lie behind a door that is shut.
        if (await stands(path)) continue
        if (any) gone.push(path)
        else this.#away.add(path)
      }
    this.#present.delete(folder)
    this.#replaced.delete(folder)
    return gone
  }
}

async function stands(path: string): Promise<boolean> {
  try {
    await lstat(path)
    return true
  } catch (error) {
    const { code } = error as NodeJS.ErrnoException
    return code !== 'ENOENT' && code !== 'ENOTDIR'
  }
}
