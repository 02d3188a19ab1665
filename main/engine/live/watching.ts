import { isSame, type FileStat } from '../../watch/stat.ts'
import { watchFolders, type WatchEvent, type Watcher, type WatchOptions } from '../../watch/watch.ts'
import type { PassedOverPath, WatchState } from '../../rules/state.ts'
import { allFolders } from '../../../db/tables/folders.ts'
import { rigSpans } from '../../../db/tables/rigs.ts'
import { instant } from '../clock.ts'
import type { Core } from '../core.ts'
import { isLogged, type Arrivals } from './arrivals.ts'
import { PassedOverPaths } from './passed-over.ts'
import type { Reach } from './reach.ts'

/** While so many files wait to be logged, a sweep is held: the queue must not grow with the folder. */
const MOST_WAITING = 2_000

export type WatchTuning = Pick<WatchOptions, 'clock' | 'intervals' | 'hints' | 'isNetwork'>

/** The watched folders: follows the list in the database, hands files to the first lane, knows which folder is away. */
export class Watching {
  readonly #core: Core
  readonly #arrivals: Arrivals
  readonly #reach: Reach
  readonly #watcher: Watcher | null
  readonly #passedOver = new PassedOverPaths()
  /** Folders in which everything was looked at once: what comes now has landed, what came before was found. */
  readonly #swept = new Set<string>()
  #paths: string[] = []

  /** @param tuning null for an engine that watches nothing (the command line) */
  constructor(core: Core, arrivals: Arrivals, reach: Reach, tuning: WatchTuning | null) {
    this.#core = core
    this.#arrivals = arrivals
    this.#reach = reach
    const isKnown = (path: string, stat: FileStat) => {
      const known = isLogged(core, path, (logged) => isSame(logged, stat))
      reach.saw(path, known)
      return known
    }
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
      this.#reach.forget(path)
      this.#passedOver.forget(path)
      this.#swept.delete(path)
    }
    for (const path of fresh) this.#reach.begin(path, false)
    await Promise.all([
      ...gone.map((path) => this.#watcher?.remove(path)),
      ...fresh.map((path) => this.#watcher?.add(path)),
    ])
  }

  async lookAgain(): Promise<void> {
    await this.#watcher?.rescan()
  }

  states(): WatchState[] {
    const rigOf = this.#rigs()
    return this.#paths.map((path) => ({ path, rig: rigOf(path), lostSince: this.#reach.lost.get(path) ?? null }))
  }

  /** What cannot be logged: a file belongs to the night in which it was written, anything else to the current one. */
  passedOver(night: string): PassedOverPath[] {
    const rigOf = this.#rigs()
    const { nights } = this.#core
    const current = nights.current()
    return [...this.#passedOver.all]
      .filter(({ writtenMs }) => (writtenMs === null ? current : nights.nightOf(writtenMs)) === night)
      .map(({ path, folder, cause, reason }) => ({ path, rig: rigOf(folder), cause, reason }))
  }

  isOutOfReach(path: string): boolean {
    return this.#reach.isOut(path)
  }

  async settled(): Promise<void> {
    await this.#watcher?.settled()
    await this.#arrivals.settled()
  }

  async close(): Promise<void> {
    await this.#watcher?.close()
  }

  #rigs(): (folder: string) => string | null {
    const spans = rigSpans(this.#core.db)
    return (folder) => spans.findLast((span) => span.folder === folder)?.rig ?? null
  }

  #hear(event: WatchEvent): void | Promise<void> {
    if (this.#passedOver.hear(event)) this.#core.changed('night')
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
        this.#reach.lost.set(event.folder, instant(this.#core.clock))
        this.#swept.delete(event.folder)
        return this.#core.changed('folders', 'night')
      case 'folder back':
      case 'folder replaced':
        this.#reach.lost.delete(event.folder)
        if (event.event === 'folder replaced') {
          this.#swept.delete(event.folder)
          this.#reach.begin(event.folder, true)
        }
        return this.#core.changed('folders', 'night')
      case 'swept':
        this.#swept.add(event.folder)
        return event.first ? this.#compare(event.folder) : undefined
      default:
        return
    }
  }

  /** After the first look: what was logged from this folder and does not stand in it any more. */
  async #compare(folder: string): Promise<void> {
    const gone = await this.#reach.compare(this.#core.db, folder)
    for (const path of gone) this.#arrivals.add({ path, root: folder, is: 'gone', quiet: true })
    this.#core.changed('night')
  }
}
