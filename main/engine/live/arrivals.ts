import { setImmediate as breathe, setTimeout as sleep } from 'node:timers/promises'
import { Refusal, type Frame } from '../../contract/index.ts'
import { immediately } from '../../../db/handle.ts'
import { fileAt } from '../../../db/tables/files.ts'
import { frameById, frameIdentity, groupTempC, numberInNight } from '../../../db/tables/frames.ts'
import type { Core } from '../core.ts'
import { createDescriber, type Describer } from '../ingest/describer.ts'
import { goneUnless, place } from '../ingest/log.ts'
import { leavePath, type IsGone, type Placed, type Sighted } from '../ingest/place.ts'
import { sight } from '../ingest/sight.ts'
import { Reach } from './reach.ts'

/** What the watcher says of a path: whole, short for now, or not there any more. `quiet`: found, not landed, so not announced. */
export type Arrival = { path: string; root: string; is: 'complete' | 'incomplete' | 'gone'; quiet: boolean }

/** Read and written at once; then the event loop has its turn. */
const BATCH = 64
/** With more waiting than this it is a backlog: logged with progress, not announced one by one. */
const BACKLOG = 24
/** A log that cannot be written is tried again after this. */
const AGAIN_MS = 2_000

/**
 * The first lane: files as the watcher names them, logged header first, in order. A single frame is read, logged, judged and
 * told in one go; nothing slow stands before it.
 */
export class Arrivals {
  readonly #core: Core
  readonly #onLogged: (frames: Frame[]) => void
  readonly #onAwaited: (id: number) => void
  readonly #reach: Reach
  #waiting: Arrival[] = []
  #draining: Promise<void> | null = null
  #backlog: { done: number; total: number; startedMs: number } | null = null

  /**
   * @param onLogged called with frames that stand where the log says: there may be something to measure
   * @param onAwaited called with a frame whose figures somebody waits for: a flat that has just landed, shot by hand at a panel
   */
  constructor(core: Core, reach: Reach, onLogged: (frames: Frame[]) => void, onAwaited: (id: number) => void) {
    this.#core = core
    this.#reach = reach
    this.#onLogged = onLogged
    this.#onAwaited = onAwaited
  }

  add(arrival: Arrival): void {
    this.#waiting.push(arrival)
    if (this.#backlog) this.#backlog.total++
    this.#draining ??= this.#drain().finally(() => (this.#draining = null))
  }

  /** Resolves when everything that waits is logged. */
  async settled(): Promise<void> {
    while (this.#draining) await this.#draining
  }

  get waiting(): number {
    return this.#waiting.length
  }

  get backlog(): { done: number; total: number } | null {
    return this.#backlog && { done: this.#backlog.done, total: this.#backlog.total }
  }

  async #drain(): Promise<void> {
    // Events of one moment come one by one: let them all arrive before deciding whether this is a backlog.
    await breathe()
    while (this.#waiting.length > 0 && !this.#core.closing.aborted) {
      if (!this.#backlog && this.#waiting.length > BACKLOG)
        this.#backlog = { done: 0, total: this.#waiting.length, startedMs: performance.now() }
      const batch = this.#waiting.slice(0, this.#backlog ? BATCH : 8)
      try {
        this.#log(batch)
        this.#waiting.splice(0, batch.length)
      } catch (error) {
        if (!(error instanceof Refusal)) throw error
        await this.#waitForRoom(error.message)
        continue
      }
      if (this.#backlog) {
        this.#backlog.done += batch.length
        this.#tellProgress(this.#waiting.length === 0 ? 'done' : 'running')
      }
      await breathe()
    }
    if (this.#backlog) {
      this.#backlog = null
      this.#core.changed('night', 'folders')
    }
  }

  /** The disk of the log is full, or fails: said once a try, and everything that waits is kept for the next. */
  async #waitForRoom(text: string): Promise<void> {
    const total = this.#waiting.length
    this.#core.tell({
      event: 'progress',
      job: 'log',
      title: 'Logging',
      done: 0,
      total,
      leftS: null,
      state: 'failed',
      text,
    })
    await sleep(AGAIN_MS, undefined, { signal: this.#core.closing }).catch(() => {})
  }

  #log(batch: Arrival[]): void {
    const { db, zone } = this.#core
    const describe = createDescriber(db, zone)
    const seen = batch.map((arrival) => ({ arrival, sighted: trySight(arrival, describe) }))
    const isGone = goneUnless((path) => this.#core.isOutOfReach(path))
    const isFresh = batch.every(({ path }) => !fileAt(db, path))
    const placed = immediately(db, () =>
      seen.flatMap(({ arrival, sighted }): (Placed & { quiet: boolean })[] => {
        if (sighted) {
          this.#makeWay(arrival.path, isGone)
          return [{ ...place(sighted, this.#core), quiet: arrival.quiet }]
        }
        const known = arrival.is === 'gone' && isGone(arrival.path) ? fileAt(db, arrival.path) : undefined
        if (known) leavePath(db, known.frameId, arrival.path, isGone)
        return []
      }),
    )
    const stand = placed.flatMap(({ id, quiet, outcome }) => {
      const frame = frameById(db, id)
      return frame ? [{ frame, quiet, outcome }] : []
    })
    const frames = stand.filter(({ outcome }) => outcome !== 'already')
    // Only new lights where nothing stood leave the calibration frames as they were.
    const areLights = frames.length === batch.length && frames.every(({ frame }) => frame.kind === 'light')
    if (!isFresh || !areLights) this.#core.judging.forget()
    if (!this.#backlog) for (const { frame, quiet } of frames) if (!quiet && frame.state === 'ok') this.#announce(frame)
    // One that was gone and is back may never have been measured.
    if (stand.length > 0) this.#onLogged(stand.map(({ frame }) => frame))
    this.#core.changed('night')
  }

  /** Where another disk stands, the frame that was logged from this path is not the one that stands here now. */
  #makeWay(path: string, isGone: IsGone): void {
    if (!this.#reach.isReplaced(path)) return
    const known = fileAt(this.#core.db, path)
    if (known) leavePath(this.#core.db, known.frameId, path, isGone, 'out of reach')
    this.#reach.settle(path)
  }

  #announce(frame: Frame): void {
    const { db, judging, nights, tell } = this.#core
    nights.landed(frame)
    const verdicts = judging.verdicts(frame, groupTempC(db, frame))
    if (frame.kind === 'flat' && !frame.aside) this.#onAwaited(frame.id)
    tell({ event: 'landed', frame, verdicts, number: numberInNight(db, frame) })
  }

  #tellProgress(state: 'running' | 'done'): void {
    const { done, total, startedMs } = this.#backlog!
    const leftS = ((performance.now() - startedMs) / 1000) * ((total - done) / Math.max(done, 1))
    this.#core.tell({
      event: 'progress',
      job: 'backlog',
      title: 'Logging what is there',
      done,
      total,
      leftS,
      state,
      text: null,
    })
  }
}

/** A file that went away or is written again since the watcher saw it is left to the watcher's next look. */
function trySight({ path, root, is }: Arrival, describe: Describer): Sighted | null {
  if (is === 'gone') return null
  try {
    return sight(path, root, describe, undefined, is === 'incomplete')
  } catch (error) {
    if (error instanceof Refusal) return null
    throw error
  }
}

/** True where this path's bytes stand in the log as they are, so that the watcher need not look at it. */
export function isLogged(
  core: Core,
  path: string,
  isSame: (known: { size: number; modifiedMs: number; changedMs: number; inode: number }) => boolean,
): boolean {
  const known = fileAt(core.db, path)
  return known !== undefined && isSame(known) && frameIdentity(core.db, known.frameId)?.state === 'ok'
}
