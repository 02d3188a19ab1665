import type { WatchClock } from './clock.ts'
import type { FileShape, Look } from './complete.ts'
import type { Disk } from './disk.ts'
import type { Intervals } from './intervals.ts'
import { isSame, type FileStat } from './stat.ts'

/** What became of a file that was waited for. `incomplete` is said once and the waiting goes on; the others end it. */
export type Outcome =
  | { state: 'complete'; stat: FileStat; info: FileShape }
  | { state: 'incomplete'; stat: FileStat; reason: string }
  | { state: 'broken'; stat: FileStat; reason: string; code: string }
  | { state: 'gone' }

interface Wait {
  /** It was complete before and was written again. */
  rewritten: boolean
  stat: FileStat | null
  /** When it was last seen to differ from the look before. */
  changedAt: number
  lookedAt: number
  tries: number
  /** Bytes that its header announced at the last look; 0 if unknown. */
  need: number
  said: boolean
  /** A look has been asked of a far disk and not been answered yet. */
  looking: boolean
  timer: unknown
}

/**
 * Files that are not complete yet, each looked at on every hint (at most every few ms) and by itself at growing intervals, so that
 * a lost hint costs seconds and a hint that comes costs none.
 */
export class WaitingFiles {
  readonly #waits = new Map<string, Wait>()
  readonly #asked = new Set<Promise<void>>()
  readonly #clock: WatchClock
  readonly #intervals: Intervals
  readonly #disk: Disk
  readonly #tell: (path: string, outcome: Outcome, rewritten: boolean) => void

  constructor(
    disk: Disk,
    clock: WatchClock,
    intervals: Intervals,
    tell: (path: string, outcome: Outcome, rewritten: boolean) => void,
  ) {
    this.#disk = disk
    this.#clock = clock
    this.#intervals = intervals
    this.#tell = tell
  }

  get size(): number {
    return this.#waits.size
  }

  has(path: string): boolean {
    return this.#waits.has(path)
  }

  /** Looks at a file now, or in a moment if it was looked at just now, and until its fate is known. */
  poke(path: string, rewritten = false): void {
    const now = this.#clock.now()
    let wait = this.#waits.get(path)
    if (!wait) {
      const never = { lookedAt: -Infinity, tries: 0, need: 0, said: false, looking: false, timer: null }
      wait = { ...never, rewritten, stat: null, changedAt: now }
      this.#waits.set(path, wait)
    }
    const early = wait.lookedAt + this.#intervals.spacingMs - now
    if (early > 0) this.#schedule(path, wait, early)
    else this.#look(path, wait)
  }

  /** Looks that a far disk has not answered yet. */
  get asked(): ReadonlySet<Promise<void>> {
    return this.#asked
  }

  /** Forgets a file. */
  drop(path: string): void {
    const wait = this.#waits.get(path)
    if (wait) this.#clock.clearTimeout(wait.timer)
    this.#waits.delete(path)
  }

  /** Forgets every file whose path begins so; all with the empty string. */
  dropBelow(prefix: string): void {
    for (const path of [...this.#waits.keys()]) if (path.startsWith(prefix)) this.drop(path)
  }

  #look(path: string, wait: Wait): void {
    if (wait.looking) return
    wait.lookedAt = this.#clock.now()
    const { need, stat } = wait
    const look = this.#disk.look(path, stat && { need, stat })
    if (!(look instanceof Promise)) return this.#weigh(path, wait, look)
    wait.looking = true
    const asked = look
      .catch((error: Error): Look => this.#unanswered(wait, error))
      .then((answer) => {
        wait.looking = false
        this.#asked.delete(asked)
        if (this.#waits.get(path) === wait) this.#weigh(path, wait, answer)
      })
    this.#asked.add(asked)
  }

  /** The thread that looks has ended: another one is asked again in its turn. */
  #unanswered({ stat, need }: Wait, { message }: Error): Look {
    const unknown = { size: 0, modifiedMs: 0, changedMs: 0, inode: 0 }
    return { state: 'growing', stat: stat ?? unknown, need, reason: `This file could not be looked at: ${message}.` }
  }

  #weigh(path: string, wait: Wait, look: Look): void {
    const now = this.#clock.now()
    if (look.state === 'gone') return this.#end(path, wait, { state: 'gone' })
    if (!wait.stat || !isSame(wait.stat, look.stat)) {
      wait.changedAt = wait.stat ? now : wait.changedAt
      wait.stat = look.stat
      wait.tries = 0
      wait.said = false
    }
    const outcome = this.#outcome(look, wait, now - wait.changedAt)
    if (outcome && outcome.state !== 'incomplete') return this.#end(path, wait, outcome)
    if (look.state === 'growing') wait.need = look.need
    if (outcome && !wait.said) {
      wait.said = true
      this.#tell(path, outcome, wait.rewritten)
    }
    const { retryMs } = this.#intervals
    this.#schedule(path, wait, retryMs[Math.min(wait.tries++, retryMs.length - 1)])
  }

  /** What can be said after so long without a change; null: nothing yet. */
  #outcome(look: Exclude<Look, { state: 'gone' }>, { rewritten, stat }: Wait, quietMs: number): Outcome | null {
    const { settleMs, zerosMs, incompleteMs } = this.#intervals
    if (!stat) return null
    if (look.state === 'complete') return !rewritten || quietMs >= settleMs ? look : null
    if (look.state === 'unusable') return quietMs >= settleMs ? { ...look, state: 'broken' } : null
    if (look.state === 'settling') {
      if (quietMs >= { none: settleMs, few: incompleteMs, many: zerosMs }[look.zeros]) {
        const { info, reason } = look
        return info.image ? { state: 'complete', stat, info } : { state: 'broken', stat, reason, code: 'no-image' }
      }
    }
    return quietMs >= incompleteMs ? { state: 'incomplete', stat, reason: look.reason } : null
  }

  #end(path: string, wait: Wait, outcome: Outcome): void {
    this.#clock.clearTimeout(wait.timer)
    this.#waits.delete(path)
    this.#tell(path, outcome, wait.rewritten)
  }

  #schedule(path: string, wait: Wait, ms: number): void {
    this.#clock.clearTimeout(wait.timer)
    wait.timer = this.#clock.setTimeout(() => {
      if (this.#waits.get(path) === wait) this.#look(path, wait)
    }, ms)
  }
}
