import { basename, dirname, sep } from 'node:path'
import type { WatchClock } from './clock.ts'
import type { WatchEvent } from './events.ts'
import type { Hints, HintSource } from './hints.ts'
import type { Intervals } from './intervals.ts'
import type { Disk } from './disk.ts'
import { folderReason, isSamePlace, type Identity } from './listing.ts'
import { isFitsName } from './names.ts'
import { Problems } from './problems.ts'
import type { FileStat } from './stat.ts'
import { WatchedTree } from './tree.ts'
import { WaitingFiles, type Outcome } from './waiting.ts'

export interface Surroundings {
  clock: WatchClock
  intervals: Intervals
  hints: HintSource
  isKnown: (path: string, stat: FileStat) => boolean
  tell: (event: WatchEvent) => void | Promise<void>
}

/**
 * One chosen folder being watched: whether it is in reach, its tree, its hints, and the files that are not complete yet. Events are a
 * hint and its own looks are the truth: on start, on return, on error, and at fixed intervals.
 */
export class WatchedFolder {
  readonly path: string
  polling: boolean
  /** null until the first look. */
  reachable: boolean | null = null
  readonly #disk: Disk
  readonly #around: Surroundings
  readonly #tree: WatchedTree
  readonly #waiting: WaitingFiles
  readonly #problems = new Problems((path) => this.#tell({ event: 'problem over', folder: this.path, path }))
  readonly #timers = new Set<unknown>()
  #hints: Hints | null = null
  #asking: Promise<void> | null = null
  /** What the disk was asked last and has not answered: a dead one is not asked twice. */
  #identity: Promise<Identity | { reason: string }> | null = null
  #job: Promise<void> = Promise.resolve()
  #jobs = 0
  readonly #busy = new Set<Promise<void>>()
  #tickedAt: number
  #closed = false
  /** What `seen` owes to the one who is told, in a sweep. */
  #pace: void | Promise<void> = undefined

  constructor(path: string, polling: boolean, disk: Disk, around: Surroundings) {
    this.path = path
    this.#disk = disk
    this.polling = polling
    this.#around = around
    this.#tickedAt = around.clock.now()
    this.#waiting = new WaitingFiles(disk, around.clock, around.intervals, (at, outcome, again) =>
      this.#said(at, outcome, again),
    )
    this.#tree = new WatchedTree(path, disk, {
      now: () => around.clock.now(),
      isKnown: around.isKnown,
      seen: (at, rewritten) => this.#seen(at, rewritten),
      gone: (at) => this.#gone(at),
      problem: (at, reason) => this.#problem(at, reason),
      listed: (at, listing) => this.#problems.listed(at, listing),
      entered: (at) => this.#hints?.add(at),
      left: (at) => this.#left(at),
    })
  }

  /** Looks once, wholly, and then goes on by itself. */
  async begin(): Promise<void> {
    const { intervals } = this.#around
    const looked = this.#checkReach()
    this.#every(intervals.rootMs, () => this.#tick())
    this.#every(this.polling ? intervals.pollMs : intervals.glanceMs, () =>
      this.#idle(() => this.#tree.glance(this.polling)),
    )
    this.#every(intervals.sweepMs, () => this.#idle(() => this.#sweep(false)))
    await looked
  }

  get files(): number {
    return this.#tree.files
  }

  get unfinished(): number {
    return this.#waiting.size
  }

  /** Everything, now; resolves when it was looked at. */
  async rescan(): Promise<void> {
    await this.#checkReach()
    if (!this.reachable) return
    // What the system told before may have ended without a word: after a sleep, or when a disk came back.
    void this.#hints?.close()
    this.#hints = null
    this.#listen()
    await this.#queue(() => this.#sweep(false))
  }

  /** Resolves when nothing is being looked at. */
  async settled(): Promise<void> {
    while (this.#busy.size + this.#waiting.asked.size) await Promise.all([...this.#busy, ...this.#waiting.asked])
  }

  async close(): Promise<void> {
    this.#closed = true
    this.#tree.close()
    for (const timer of this.#timers) this.#around.clock.clearTimeout(timer)
    this.#waiting.dropBelow('')
    await this.#hints?.close()
    // A look that hangs on a dead mount must not keep the program from ending.
    const { clock, intervals } = this.#around
    await Promise.race([this.settled(), new Promise<void>((done) => clock.setTimeout(done, intervals.answerMs))])
    this.#disk.close()
  }

  #every(ms: number, run: () => void): void {
    const { clock } = this.#around
    const arm = () => {
      const timer = clock.setTimeout(() => {
        this.#timers.delete(timer)
        if (this.#closed) return
        run()
        arm()
      }, ms)
      this.#timers.add(timer)
    }
    arm()
  }

  /** After a sleep of the machine the timers stood still: everything may have happened. */
  #tick(): void {
    const now = this.#around.clock.now()
    const slept = now - this.#tickedAt > this.#around.intervals.rootMs * 3
    this.#tickedAt = now
    void this.#checkReach()
    if (slept) this.#later(() => this.#sweep(false))
  }

  /** Runs one after another what looks at the disk. */
  #queue(run: () => Promise<void>): Promise<void> {
    this.#jobs++
    const job = this.#job.then(async () => {
      try {
        if (!this.#closed) await run()
      } catch (error) {
        this.#problem(this.path, folderReason(error))
      } finally {
        this.#jobs--
      }
    })
    this.#job = job
    return this.#track(job)
  }

  #track(work: Promise<void>): Promise<void> {
    this.#busy.add(work)
    return work.finally(() => this.#busy.delete(work))
  }

  /** Only if nothing else is going on: a slow disk must not pile up work. */
  #idle(run: () => Promise<void>): void {
    if (this.#jobs === 0) void this.#queue(run)
  }

  /** Asks whether the folder is there. Not in line with the looks: one of them may hang on a dead mount. */
  #checkReach(): Promise<void> {
    this.#asking ??= this.#track(this.#reach())
    return this.#asking
  }

  async #reach(): Promise<void> {
    const found = await this.#ask()
    this.#asking = null
    if (this.#closed) return
    if ('reason' in found) this.#goOut(found.reason)
    else await this.#arrive(found)
  }

  /** @returns when everything in it was looked at, if it came or came back just now */
  async #arrive(found: Identity): Promise<void> {
    const before = this.#tree.identity
    const same = before === null || isSamePlace(found, before)
    if (this.reachable && same) return
    if (!same) this.#forget()
    if (!same) this.#tell({ event: 'folder replaced', folder: this.path })
    else if (this.reachable === false) this.#tell({ event: 'folder back', folder: this.path })
    this.#tree.identity = found
    this.reachable = true
    this.#listen()
    await this.#queue(() => this.#sweep(true))
  }

  /** The folder's identity, or why it is out of reach. A dead network mount never answers at all. */
  async #ask(): Promise<Identity | { reason: string }> {
    const { clock, intervals } = this.#around
    let timer: unknown
    const late = new Promise<{ reason: string }>((resolve) => {
      const reason = 'This folder does not answer: check the connection to its disk.'
      timer = clock.setTimeout(() => resolve({ reason }), intervals.answerMs)
    })
    this.#identity ??= this.#disk
      .identify()
      .catch((error: unknown) => ({ reason: folderReason(error) }))
      .finally(() => (this.#identity = null))
    const first = await Promise.race([this.#identity, late])
    clock.clearTimeout(timer)
    return first
  }

  #goOut(reason: string): void {
    if (this.reachable === false) return
    this.reachable = false
    void this.#hints?.close()
    this.#hints = null
    this.#tell({ event: 'folder lost', folder: this.path, reason })
  }

  #forget(): void {
    this.#tree.forget()
    this.#waiting.dropBelow('')
    this.#problems.forget()
    void this.#hints?.close()
    this.#hints = null
  }

  #listen(): void {
    if (this.polling || this.#hints) return
    const onHint = (path: string) => {
      if (!this.#closed && this.reachable) void this.#track(this.#hinted(path))
    }
    this.#hints = this.#around.hints(onHint, (error) => this.#deaf(error))
    for (const folder of this.#tree.folders) this.#hints.add(folder)
  }

  async #hinted(path: string): Promise<void> {
    try {
      await this.#tree.hint(path, isFitsName(basename(path)))
      // Whether what was passed over still is, its folder's listing tells.
      if (this.#problems.has(path) && path !== this.path) await this.#tree.hint(dirname(path), false)
    } catch {
      // The next glance or sweep sees it, or says why it cannot.
    }
  }

  /** No more notifications: the system has run out of them, or they fail. Looking by ourselves takes over. */
  #deaf(error: Error): void {
    if (this.#closed) return
    const { code } = error as NodeJS.ErrnoException
    if (code === 'ENOSPC' || code === 'EMFILE') {
      this.polling = true
      void this.#hints?.close()
      this.#hints = null
      this.#every(this.#around.intervals.pollMs, () => this.#idle(() => this.#tree.glance(this.polling)))
      const reason = 'The system has no notifications left for this folder, so it is looked through every few seconds.'
      this.#tell({ event: 'deaf', folder: this.path, reason })
    }
    this.#later(() => this.#sweep(false))
  }

  #later(run: () => Promise<void>): void {
    void this.#queue(run)
  }

  async #sweep(first: boolean): Promise<void> {
    if (!this.reachable) return
    const began = performance.now()
    const files = await this.#tree.sweep()
    if (this.#closed) return
    const tookMs = Math.round(performance.now() - began)
    await this.#tell({ event: 'swept', folder: this.path, files, first, tookMs })
  }

  #seen(path: string, rewritten: boolean): void | Promise<void> {
    this.#pace = undefined
    this.#waiting.poke(path, rewritten)
    return this.#pace
  }

  #said(path: string, outcome: Outcome, again: boolean): void {
    const folder = this.path
    if (outcome.state === 'gone') {
      if (this.reachable && this.#tree.lost(path)) this.#tell({ event: 'gone', folder, path })
      return
    }
    const { stat } = outcome
    if (outcome.state === 'complete') {
      this.#tree.told(path, stat, false)
      this.#tell({ event: 'complete', folder, path, stat, info: outcome.info, again })
    } else if (outcome.state === 'incomplete')
      this.#tell({ event: 'incomplete', folder, path, stat, reason: outcome.reason })
    else {
      this.#tree.told(path, stat, true)
      this.#tell({ event: 'broken', folder, path, stat, reason: outcome.reason, code: outcome.code })
    }
  }

  #gone(path: string): void {
    this.#waiting.drop(path)
    this.#tell({ event: 'gone', folder: this.path, path })
  }

  #left(path: string): void {
    this.#hints?.remove(path)
    this.#waiting.dropBelow(path + sep)
    this.#problems.left(path)
  }

  #problem(path: string, reason: string): void {
    if (this.reachable && this.#problems.add(path, reason))
      this.#tell({ event: 'problem', folder: this.path, path, reason })
  }

  #tell(event: WatchEvent): void | Promise<void> {
    if (!this.#closed) return (this.#pace = this.#around.tell(event))
  }
}
