import { basename, dirname, join, sep } from 'node:path'
import type { Listing } from './listing.ts'
import { isFitsName } from './names.ts'

/** Paths of one chosen folder that are passed over, each told once for each reason, and once when it holds no longer. */
export class Problems {
  readonly #reasons = new Map<string, string>()
  readonly #over: (path: string) => void

  constructor(over: (path: string) => void) {
    this.#over = over
  }

  has(path: string): boolean {
    return this.#reasons.has(path)
  }

  /** @returns whether it is news */
  add(path: string, reason: string): boolean {
    if (this.#reasons.get(path) === reason) return false
    this.#reasons.set(path, reason)
    return true
  }

  forget(): void {
    this.#reasons.clear()
  }

  /** A folder is not there any more. */
  left(folder: string): void {
    for (const at of [...this.#reasons.keys()]) if (at.startsWith(folder + sep)) this.#end(at)
  }

  /** What is not said again of a folder that can be listed holds no longer. A folder in it answers for itself. */
  listed(path: string, { folders, problems }: Listing): void {
    if (this.#reasons.size === 0) return
    const still = new Set([...problems.map((problem) => problem.path), ...folders.map((name) => join(path, name))])
    for (const at of [...this.#reasons.keys()]) {
      const isOwn = at === path && !isFitsName(basename(at))
      if (isOwn || (dirname(at) === path && !still.has(at))) this.#end(at)
    }
  }

  #end(path: string): void {
    this.#reasons.delete(path)
    this.#over(path)
  }
}
