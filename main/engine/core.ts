import type { EngineEvent, EventOf } from '../contract/index.ts'
import type { PassedOverPath } from '../rules/state.ts'
import type { Writable } from '../../db/handle.ts'
import type { Clock } from './clock.ts'
import type { Leaving } from './data-folder/leaving.ts'
import type { Shelf } from './library/shelf.ts'
import type { Judging } from './night/judging.ts'
import type { FolderWatch } from './live/watching.ts'
import type { NightBook } from './night/night-book.ts'

/** What every part of the engine works with. */
export interface Core {
  readonly db: Writable
  readonly dataDir: string
  readonly clock: Clock
  /** IANA name of the zone in which a night is told where neither header nor site does. */
  readonly zone: string
  readonly shelf: Shelf
  readonly judging: Judging
  readonly nights: NightBook
  /** Aborted when the engine closes. */
  readonly closing: AbortSignal
  /** For whoever needs the engine closed and started again. */
  readonly leaving: Leaving
  /** Tells every listener at once. */
  tell(event: EngineEvent): void
  /** Something is different now: caches of it are dropped, and listeners hear of it (once for a burst of changes). */
  changed(...what: EventOf<'changed'>['what']): void
  /** True for a path below a watched folder whose disk is away at the moment. */
  isOutOfReach(path: string): boolean
  /** True for a path that nobody watches and that was looked for in vain: it, or a folder above it, is away at the moment. */
  isMissing(path: string): boolean
  /** The watched folders now. */
  watches(): FolderWatch[]
  /** What a watched folder holds of this night and no log can take. */
  passedOver(night: string): PassedOverPath[]
  /** The list of watched folders is another now. Resolves when what is new was looked at once. */
  watchAgain(): Promise<void>
  /** Watcher events may have been missed: scan everything now. */
  lookAgain(): void
  /** How far a backlog is logged; null while there is none. */
  catchingUp(): { done: number; total: number } | null
}
