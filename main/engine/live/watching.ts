import { isSame, type FileStat } from '../../watch/stat.ts'
import { watchFolders, type WatchEvent, type Watcher, type WatchOptions } from '../../watch/watch.ts'
import type { WatchState } from '../../rules/state.ts'
import { allFolders } from '../../../db/tables/folders.ts'
import { rigSpans } from '../../../db/tables/rigs.ts'
import { instant } from '../clock.ts'
import type { Core } from '../core.ts'
import { isBelow } from '../ingest/describer.ts'
import { isLogged, type Arrivals } from './arrivals.ts'

/** While so many files wait to be logged, a sweep is held: the queue must not grow with the folder. */
const MOST_WAITING = 2_000

export type WatchTuning = Pick<WatchOptions, 'clock' | 'intervals' | 'hints' | 'isNetwork'>

/** The watched folders: follows the list in the database, hands files to the first lane, knows which folder is away. */
export class Watching {
  readonly #core: Core
  readonly #arrivals: Arrivals
  readonly #watcher: Watcher | null
  readonly #lost = new Map<string, string>()
  /** Folders in which everything was looked at once: what comes now has landed, what came before was found. */
  readonly #swept = new Set<string>()
  #paths: string[] = []

  /** @param tuning null for an engine that watches nothing (the command line) */
  constructor(core: Core, arrivals: Arrivals, tuning: WatchTuning | null) {
    this.#core = core
    this.#arrivals = arrivals
    const isKnown = (path: string, stat: FileStat) => isLogged(core, path, (known) => isSame(known, stat))
    this.#watcher = tuning && watchFolders({ ...tuning, isKnown, on: (event) => this.#hear(event) })
  }

  /** Watches what the list says, and no more. Resolves when what is new was looked at once. */
  async follow(): Promise<void> {
    const wanted = allFolders(this.#core.db)
      .filter((folder) => folder.watched)
      .map((folder) => folder.path)
    const gone = this.#paths.filter((path) => !wanted.includes(path))
    const fresh = wanted.filter((path) => !this.#paths.includes(path))
    this.#paths = wanted
    for (const path of gone) {
      this.#lost.delete(path)
      this.#swept.delete(path)
    }
    await Promise.all([
      ...gone.map((path) => this.#watcher?.remove(path)),
      ...fresh.map((path) => this.#watcher?.add(path)),
    ])
  }

  async lookAgain(): Promise<void> {
    await this.#watcher?.rescan()
  }

  states(): WatchState[] {
    const rigs = rigSpans(this.#core.db)
    return this.#paths.map((path) => ({
      path,
      rig: rigs.findLast((span) => span.folder === path)?.rig ?? null,
      lostSince: this.#lost.get(path) ?? null,
    }))
  }

  isOutOfReach(path: string): boolean {
    if (this.#lost.size === 0) return false
    for (const folder of this.#lost.keys()) if (isBelow(path, folder)) return true
    return false
  }

  async settled(): Promise<void> {
    await this.#watcher?.settled()
    await this.#arrivals.settled()
  }

  async close(): Promise<void> {
    await this.#watcher?.close()
  }

  #hear(event: WatchEvent): void | Promise<void> {
    switch (event.event) {
      case 'complete':
      case 'incomplete':
      case 'gone':
        this.#arrivals.add({
          path: event.path,
          root: event.folder,
          is: event.event,
          quiet: !this.#swept.has(event.folder),
        })
        return this.#arrivals.waiting > MOST_WAITING ? this.#arrivals.settled() : undefined
      case 'folder lost':
        this.#lost.set(event.folder, instant(this.#core.clock))
        this.#swept.delete(event.folder)
        return this.#core.changed('folders', 'night')
      case 'folder back':
      case 'folder replaced':
        this.#lost.delete(event.folder)
        if (event.event === 'folder replaced') this.#swept.delete(event.folder)
        return this.#core.changed('folders', 'night')
      case 'broken':
      case 'problem':
        return
      case 'swept':
        this.#swept.add(event.folder)
        return
    }
  }
}
