import { setTimeout as sleep } from 'node:timers/promises'
import { Refusal, type Frame } from '../../contract/index.ts'
import { createMeasurer, FileProblem, type Measured, type Measurer } from '../../measure/measurer.ts'
import { immediately } from '../../../db/handle.ts'
import { fileAt } from '../../../db/tables/files.ts'
import { putMeasured } from '../../../db/tables/frame-figures.ts'
import {
  frameByFingerprint,
  frameById,
  isUnmeasured,
  nightToMeasure,
  setMeasured,
  toMeasureOfNight,
} from '../../../db/tables/frames.ts'
import { instant } from '../clock.ts'
import type { Core } from '../core.ts'
import { storeThumbnail } from '../files/thumbnails.ts'
import { readFrameFile } from '../ingest/read.ts'
import { Missing } from './missing.ts'
import { Rechecks } from './rechecks.ts'

/** Sorts behind every night. */
const ANY_NIGHT = '~'
/** Frames that are measured before another look at what is the newest. */
const AT_ONCE = 32
/** Frames that are passed over at once because they are out of reach, and the pause then: a whole archive may be. */
const PASSED_AT_ONCE = 256
const PAUSE_MS = 10
/** A file that was changed while it was measured, or whose thread died, is tried again after this. */
const AGAIN_MS = 2_000
const MOST_TRIES = 3
/** A log that cannot be written is tried again after this. */
const FULL_MS = 10_000
/** Frames that are done quickly (their files are broken) change the night at most this often. */
const TELL_MS = 1_000

/**
 * The second lane: hash of the whole file, figures of its pixels and a small picture, the newest frame first, in threads.
 * Nothing that waits for a verdict waits for it. What it has done stands in the database; what it has not is found again there.
 * A file that is out of reach is measured when it is back.
 */
export class SecondLane {
  readonly #core: Core
  #measurer: Measurer | null = null
  #running: Promise<void> | null = null
  #again = false
  /** Of nights: the frames from this id on are measured or out of reach, as of the last look. */
  readonly #looked = new Map<string, number>()
  /** Being measured at the moment. */
  readonly #atWork = new Map<number, Promise<boolean>>()
  readonly rechecks: Rechecks
  readonly missing: Missing

  constructor(core: Core, missing = new Missing()) {
    this.#core = core
    this.missing = missing
    missing.onBack = () => {
      this.#looked.clear()
      this.#goOn()
    }
    this.rechecks = new Rechecks(core, () => this.wake())
  }

  /** There may be something to measure, or something that was out of reach is back: goes on until there is nothing. */
  wake(): void {
    this.#looked.clear()
    this.missing.lookNow()
    this.#goOn()
  }

  /** These stand where the log says. */
  landed(frames: readonly Pick<Frame, 'night' | 'path'>[]): void {
    for (const { night, path } of frames) {
      this.#looked.delete(night)
      this.missing.found(path)
    }
    this.#goOn()
  }

  #goOn(): void {
    this.#again = true
    this.#running ??= this.#run().finally(() => (this.#running = null))
  }

  /** A frame that has just landed and for which somebody waits: at once, beside whatever is under way. */
  first(id: number): void {
    const frame = frameById(this.#core.db, id)
    if (!frame || frame.figures !== null) return
    // What is wrong with the disk of the log is told when its turn comes.
    void this.#measured(frame, this.#core.closing).then(
      (isDone) => {
        if (!isDone) return
        this.rechecks.soon(id)
        this.#core.changed('night')
      },
      () => {},
    )
  }

  /** Measures these frames now. @throws Refusal when stopped */
  async measure(
    ids: number[],
    { signal, onProgress }: { signal?: AbortSignal; onProgress?: (done: number, total: number) => void } = {},
  ): Promise<void> {
    const wanted = ids.flatMap((id) => frameById(this.#core.db, id) ?? []).filter((frame) => frame.figures === null)
    let done = 0
    await inParallel(wanted, async (frame) => {
      if (signal?.aborted)
        throw new Refusal('Stopped: what was measured so far is kept, and the next run goes on from there.')
      await this.#measured(frame, signal)
      onProgress?.(++done, wanted.length)
    })
  }

  async close(): Promise<void> {
    await this.missing.close()
    await this.rechecks.close()
    await this.#running
    await Promise.allSettled(this.#atWork.values())
    await this.#measurer?.close()
  }

  async #run(): Promise<void> {
    const { closing } = this.#core
    let toldMs = -Infinity
    let isUntold = false
    while (this.#again && !closing.aborted) {
      for (let next; (next = await this.#next()).length > 0;) {
        for (const id of next) {
          const frame = closing.aborted ? undefined : frameById(this.#core.db, id)
          if (!frame || !isUnmeasured(this.#core.db, id) || this.#isAway(frame.path)) continue
          isUntold = true
          try {
            if (await this.#measured(frame, closing)) this.rechecks.soon(id)
          } catch (error) {
            // The log cannot be written (a full disk): the frame is found here again when it can.
            if (!(error instanceof Refusal)) throw error
            await sleep(FULL_MS, undefined, { signal: closing }).catch(() => {})
          }
        }
        if (isUntold && performance.now() - toldMs >= TELL_MS) {
          this.#core.changed('night')
          toldMs = performance.now()
          isUntold = false
        }
      }
      if (isUntold) this.#core.changed('night')
      isUntold = false
    }
  }

  /** The newest frames that wait and are in reach; none where there is nothing more to do, or the engine closes. */
  async #next(): Promise<number[]> {
    const { db, closing } = this.#core
    for (let night: string | null = ANY_NIGHT; !closing.aborted;) {
      if (this.#again) night = ANY_NIGHT
      this.#again = false
      night = nightToMeasure(db, night)
      if (night === null) return []
      for (
        let below = this.#looked.get(night) ?? Number.MAX_SAFE_INTEGER;
        below > 0 && !this.#again && !closing.aborted;
      ) {
        const waiting = toMeasureOfNight(db, night, below, PASSED_AT_ONCE)
        const reached = waiting.filter(({ path }) => !this.#isAway(path))
        if (reached.length > 0) return reached.slice(0, AT_ONCE).map(({ id }) => id)
        below = waiting.length < PASSED_AT_ONCE ? 0 : waiting[waiting.length - 1].id
        this.#looked.set(night, below)
        await sleep(PAUSE_MS, undefined, { signal: closing }).catch(() => {})
      }
    }
    return []
  }

  readonly #isAway = (path: string): boolean => this.#core.isOutOfReach(path) || this.missing.has(path)

  /** Measures a frame, or waits where that is being done already: each is measured, and told of, once. */
  #measured(frame: Frame, signal?: AbortSignal): Promise<boolean> {
    const { id } = frame
    let work = this.#atWork.get(id)
    if (!work) {
      work = this.#one(frame, signal).finally(() => this.#atWork.delete(id))
      this.#atWork.set(id, work)
    }
    return work
  }

  /** @returns false where its file is out of reach, and it waits on */
  async #one(frame: Frame, signal?: AbortSignal): Promise<boolean> {
    for (let tries = 1; ; tries++) {
      try {
        this.#measurer ??= createMeasurer()
        const how = { cfa: frame.cfa, thumbnail: true, hash: true }
        this.#keep(frame, await this.#measurer.measure(frame.path, how, signal))
        return true
      } catch (error) {
        if (signal?.aborted || this.#core.closing.aborted) return false
        if (error instanceof Refusal) throw error
        if (isUnreadable(error) && (await this.missing.note(frame.path))) return false
        if (tries === MOST_TRIES || !mayPass(error)) {
          this.#giveUp(frame, error)
          return true
        }
        await sleep(AGAIN_MS, undefined, { signal: this.#core.closing }).catch(() => {})
      }
    }
  }

  /** Touched since it was logged, or rewritten: then the watcher brings it again, and its figures are of unknown bytes. */
  #isAsLogged(frame: Frame, { size, mtimeMs }: Measured): boolean {
    const { db } = this.#core
    const known = fileAt(db, frame.path)
    const isAsLogged = known?.frameId === frame.id && known.size === size && known.modifiedMs === mtimeMs
    return isAsLogged || frameByFingerprint(db, readFrameFile(frame.path).fingerprint)?.id === frame.id
  }

  #keep(frame: Frame, measured: Measured): void {
    const { db, clock, dataDir } = this.#core
    if (!this.#isAsLogged(frame, measured)) return this.#giveUp(frame, new Error('rewritten'))
    const { figures, sha256, thumbnail } = measured
    if (thumbnail) storeThumbnail(dataDir, 'frame', frame.id, thumbnail)
    immediately(db, () => {
      putMeasured(db, frame.id, { sha256: sha256 === null ? null : Buffer.from(sha256, 'hex'), figures, problem: null })
      setMeasured(db, frame.id, instant(clock))
    })
    this.#core.tell({ event: 'figures', frame: frame.id, figures })
  }

  #giveUp({ id }: Frame, error: unknown): void {
    const { db, clock } = this.#core
    const problem = error instanceof FileProblem ? error.message : 'This frame could not be measured.'
    immediately(db, () => {
      putMeasured(db, id, { sha256: null, figures: null, problem })
      setMeasured(db, id, instant(clock))
    })
  }
}

const isUnreadable = (error: unknown) => error instanceof FileProblem && error.code === 'unreadable'

/** A file that was written to meanwhile, or a thread that died, may do better the next time; what the file itself is will not. */
const mayPass = (error: unknown) => !(error instanceof FileProblem) || error.code === 'data-cut'

/** Two at a time: while one waits for the disk, the other computes. */
async function inParallel<T>(items: readonly T[], work: (item: T) => Promise<void>): Promise<void> {
  let next = 0
  const worker = async () => {
    while (next < items.length) await work(items[next++])
  }
  await Promise.all([worker(), worker()])
}
