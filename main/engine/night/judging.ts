import type { Frame, Verdicts } from '../../contract/index.ts'
import type { Judge, MatchContext } from '../../match/context.ts'
import { createJudge } from '../../match/judge.ts'
import { findTwins } from '../../match/twins.ts'
import { exposuresOfSharedCameras } from '../../../db/tables/rig-frames.ts'
import type { Core } from '../core.ts'
import { matchContextOf } from '../settings.ts'
import { createPricer } from '../inspect/pricing.ts'
import { noWants, RawFrames, want, type Wants } from './raw-frames.ts'

/** Texts of verdicts tell ages in days: a judge this old is made anew. */
const FRESH_MS = 10 * 60_000

/**
 * Judges single frames the moment they land. The judge and its memory of verdicts stay until something that a verdict depends
 * on changes, so that a night of equal lights costs one look at the library.
 */
export class Judging {
  readonly #core: Core
  readonly #raw: RawFrames
  #judge: Judge | null = null
  #madeMs = 0
  #night = ''
  #wants: Wants = noWants()
  #rigs = new Set<string | null>()

  constructor(core: Core) {
    this.#core = core
    this.#raw = new RawFrames(core.db, core.shelf)
  }

  /** Verdicts of all of these (of one night) are asked for next: what they want is read from the log once, not once a frame. */
  expect(frames: readonly Frame[]): void {
    for (const frame of frames) if (this.#meet(frame)) this.#judge = null
  }

  /** @param groupTempC median temperature of the frame's run, °C; its own where unknown */
  verdicts(frame: Frame, groupTempC: number | null = null): Verdicts {
    const nowMs = this.#core.nights.momentOf(frame.night).getTime()
    const isNew = this.#meet(frame)
    if (!this.#judge || isNew || Math.abs(nowMs - this.#madeMs) > FRESH_MS) {
      this.#judge = createJudge(this.#core.shelf.masters, this.context(this.#wants, frame.night))
      this.#madeMs = nowMs
    }
    return this.#judge(frame, groupTempC)
  }

  /** @returns whether a judge that was made before knows too little for this frame */
  #meet(frame: Frame): boolean {
    if (frame.night !== this.#night) {
      this.#wants = noWants()
      this.#rigs = new Set()
    }
    this.#night = frame.night
    // A second rig may show that there are two cameras of one name.
    const isNew = want(this.#wants, frame) || !this.#rigs.has(frame.rig)
    this.#rigs.add(frame.rig)
    return isNew
  }

  /** What verdicts over these wants depend on, read from the database. Ages are told as of the night's own moment. */
  context(wants: Wants, night: string): MatchContext {
    const { db, nights, shelf } = this.#core
    const context = matchContextOf(db, nights.momentOf(night).toISOString())
    return {
      ...context,
      raw: this.#raw.groups(wants, night, context),
      twins: findTwins(exposuresOfSharedCameras(db, night)),
      price: createPricer({ db, shelf }),
    }
  }

  /** Masters, raw frames, train changes or settings are others now. */
  forget(): void {
    this.#judge = null
    this.#raw.forget()
  }
}
