import type { WatchEvent } from '../../watch/events.ts'

/** A path that could not be logged, as the watcher told it. */
export interface PassedOver {
  path: string
  folder: string
  /** What all of one cause have in common. */
  cause: string
  /** One sentence that says what to do. */
  reason: string
  /** When it was written, ms; null where it is no file and holds whenever one looks. */
  writtenMs: number | null
}

/**
 * What stands in the watched folders and is in no log: files that cannot be parsed or read, pipes, links that lead nowhere, folders
 * that may not be looked into. Kept as long as it holds; the first look of a new start tells it again.
 */
export class PassedOverPaths {
  readonly #paths = new Map<string, PassedOver>()

  get all(): Iterable<PassedOver> {
    return this.#paths.values()
  }

  /** @returns whether anything is different now */
  hear(event: WatchEvent): boolean {
    switch (event.event) {
      case 'broken':
        return this.#put(event, event.code, event.stat.modifiedMs)
      case 'problem':
        return this.#put(event, event.reason, null)
      case 'complete':
      case 'incomplete':
      case 'gone':
      case 'problem over':
        return this.#paths.delete(event.path)
      case 'folder replaced':
        return this.forget(event.folder)
      default:
        return false
    }
  }

  /** A folder is watched no more, or another stands in its place. */
  forget(folder: string): boolean {
    const before = this.#paths.size
    for (const [path, one] of this.#paths) if (one.folder === folder) this.#paths.delete(path)
    return this.#paths.size < before
  }

  #put(event: { path: string; folder: string; reason: string }, cause: string, writtenMs: number | null): boolean {
    const { path, folder, reason } = event
    this.#paths.set(path, { path, folder, cause, reason, writtenMs })
    return true
  }
}
