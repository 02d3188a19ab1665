import { isSame, type FileStat } from '../../watch/stat.ts'
import { watchFolders, type WatchEvent, type Watcher, type WatchOptions } from '../../watch/watch.ts'
import type { PassedOverPath, WatchState } from '../../rules/state.ts'
import { allFolders, type Folder } from '../../../db/tables/folders.ts'
import { rigSpans } from '../../../db/tables/rigs.ts'
import { instant } from '../clock.ts'
import type { Core } from '../core.ts'
import { isBelow } from '../ingest/describer.ts'
import { isLogged, type Arrivals } from './arrivals.ts'
import { PassedOverPaths } from './passed-over.ts'
import type { Reach } from './reach.ts'

/** While so many files wait to be logged, a sweep is held: the queue must not grow with the folder. */
const MOST_WAITING = 2_000

export type WatchTuning = Pick<WatchOptions, 'clock' | 'intervals' | 'hints' | 'isNetwork' | 'diskOf'>

/** A watched folder now, as a window shows it. */
export interface FolderWatch extends WatchState {
  /** Looked through every few seconds, and not listened to. */
  polling: boolean
  /** One sentence about how it is watched, where there is something to say. */
  note: string | null
}

/** The watched folders: follows the list in the database, hands files to the first lane, knows which folder is away. */
export class Watching {
  readonly #core: Core
  readonly #arrivals: Arrivals
  readonly #reach: Reach
  readonly #watcher: Watcher | null
  readonly #passedOver = new PassedOverPaths()
  /** Folders in which everything was looked at once: what comes now has landed, what came before was found. */
  readonly #swept = new Set<string>()
  /** Folders of which the system tells nothing any more, and what to say of it. */
  readonly #deaf = new Map<string, string>()
  /** What is watched, and how the user wants it watched. */
  #followed: Pick<Folder, 'path' | 'polling'>[] = []

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
    const wanted = allFolders(this.#core.db).filter((folder) => folder.watched)
    const isIn = (
      folders: readonly Pick<Folder, 'path' | 'polling'>[],
      { path, polling }: Pick<Folder, 'path' | 'polling'>,
    ) => folders.some((folder) => folder.path === path && folder.polling === polling)
    const gone = this.#followed.filter((folder) => !isIn(wanted, folder))
    const fresh = wanted.filter((folder) => !isIn(this.#followed, folder))
    this.#followed = wanted
    for (const { path } of gone) {
      this.#reach.forget(path)
      this.#passedOver.forget(path)
      this.#swept.delete(path)
      this.#deaf.delete(path)
    }
    for (const { path } of fresh) this.#reach.begin(path, false)
    await Promise.all(gone.map(({ path }) => this.#watcher?.remove(path)))
    await Promise.all(fresh.map(({ path, polling }) => this.#watcher?.add({ path, polling: polling ?? undefined })))
  }

  async lookAgain(): Promise<void> {
    await this.#watcher?.rescan()
  }

  states(): FolderWatch[] {
    const rigOf = this.#rigs()
    const polled = new Set(this.#watcher?.folders.flatMap(({ path, polling }) => (polling ? [path] : [])))
    return this.#followed.map(({ path }) => ({
      path,
      rig: rigOf(path),
      lostSince: this.#reach.lost.get(path) ?? null,
      polling: polled.has(path),
      note: this.#deaf.get(path) ?? null,
    }))
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

  watches(path: string): boolean {
    return this.#followed.some((folder) => isBelow(path, folder.path))
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
      case 'deaf':
        this.#deaf.set(event.folder, event.reason)
        return this.#core.changed('folders')
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
