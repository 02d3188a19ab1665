import { readdirSync, rmSync } from 'node:fs'
import { join } from 'node:path'
import {
  Refusal,
  type BuildGroup,
  type BuildOutcome,
  type Frame,
  type Master,
  type MasterKind,
} from '../../contract/index.ts'
import { createIntegrator, type Integrator } from '../../integrate/integrate.ts'
import { describeMethod } from '../../integrate/method.ts'
import { sayKind, saySettings } from '../../match/wording.ts'
import { masterById } from '../../../db/tables/masters.ts'
import { nightAfter, unbuiltRawFrames } from '../../../db/tables/raw-frames.ts'
import { instant } from '../clock.ts'
import type { Core } from '../core.ts'
import { storeThumbnail } from '../files/thumbnails.ts'
import { mastersFolder } from '../library/add-masters.ts'
import { matchContextOf } from '../settings.ts'
import { inSlices, type Steps } from '../slices.ts'
import { buildOne } from './build-one.ts'
import { planBuilds, type PlannedBuild } from './plan.ts'

export interface BuildAsk {
  groups?: string[]
  kind?: MasterKind
  keep: number[]
  least?: number
}

type MeasureFrames = (ids: number[], how: { signal: AbortSignal; onProgress: (done: number) => void }) => Promise<void>

const JOB = 'build'

/** Builds masters from raw frames, one after another, as the one job that it is. Nothing else in the engine waits for it. */
export class Builder {
  readonly #core: Core
  readonly #measure: MeasureFrames
  #integrator: Integrator | null = null
  #running: { stop: AbortController; done: Promise<BuildOutcome> } | null = null

  /** @param measure the second lane: figures of these frames now */
  constructor(core: Core, measure: MeasureFrames) {
    this.#core = core
    this.#measure = measure
  }

  get running(): string | null {
    return this.#running ? JOB : null
  }

  get integrator(): Integrator {
    return (this.#integrator ??= createIntegrator())
  }

  /** What could be built now, in the order in which it would be. */
  plan(ask: Pick<BuildAsk, 'keep' | 'least'>): Promise<PlannedBuild[]> {
    return inSlices(this.#planSteps(ask))
  }

  *#planSteps({ keep = [], least }: Pick<BuildAsk, 'keep' | 'least'>): Steps<PlannedBuild[]> {
    const { db, clock, shelf } = this.#core
    const frames: Frame[] = []
    for (let night = nightAfter(db, ''); night !== null; night = nightAfter(db, night)) {
      for (const frame of unbuiltRawFrames(db, night)) frames.push(frame)
      yield
    }
    const context = matchContextOf(db, instant(clock))
    return yield* planBuilds(frames, shelf.masters, context, {
      least: least ?? context.tolerances.leastToBuild,
      keep,
    })
  }

  async groups(ask: Pick<BuildAsk, 'keep' | 'least'>): Promise<BuildGroup[]> {
    return (await this.plan(ask)).map(toGroup)
  }

  /** @throws Refusal while another build runs */
  start(ask: BuildAsk): { job: string; done: Promise<BuildOutcome> } {
    if (this.#running) throw new Refusal('A build is running already: wait until it is done, or stop it.')
    const stop = new AbortController()
    const signal = AbortSignal.any([stop.signal, this.#core.closing])
    const done = this.#run(ask, signal).finally(() => (this.#running = null))
    this.#running = { stop, done }
    done.catch(() => {})
    return { job: JOB, done }
  }

  /** What is finished stays; of the master that is being built nothing is left. */
  async stop(): Promise<boolean> {
    const running = this.#running
    running?.stop.abort(new Refusal('The build was stopped: what was finished stays, of the rest nothing is left.'))
    await running?.done.catch(() => {})
    return running !== null
  }

  async close(): Promise<void> {
    await this.stop()
    await this.#integrator?.close()
  }

  async #run(ask: BuildAsk, signal: AbortSignal): Promise<BuildOutcome> {
    const progress = new Progress(this.#core)
    const outcome: BuildOutcome = { built: [], waiting: [] }
    try {
      await this.#measureFirst(ask, signal, progress)
      sweep(mastersFolder(this.#core.dataDir))
      const chosen = (await this.plan(ask)).filter((plan) => isAsked(plan, ask))
      progress.over(chosen.reduce((sum, plan) => sum + (plan.reason === null ? plan.frames.length : 0), 0))
      const made = new Map<string, Master>()
      for (const plan of chosen) await this.#one(plan, made, outcome, signal, progress)
      progress.end('done', `${outcome.built.length} built, ${outcome.waiting.length} waiting.`)
      return outcome
    } catch (error) {
      progress.end(signal.aborted ? 'stopped' : 'failed', error instanceof Refusal ? error.message : null)
      throw error
    }
  }

  /** Frames of groups that are large enough are measured before anything is decided: light leaks and trails show in the figures. */
  async #measureFirst(ask: BuildAsk, signal: AbortSignal, progress: Progress): Promise<void> {
    const ids = (await this.plan(ask))
      .filter((plan) => isAsked(plan, ask) && plan.frames.length >= plan.need)
      .flatMap((plan) => plan.frames.filter((frame) => frame.figures === null).map((frame) => frame.id))
    if (ids.length === 0) return
    progress.over(ids.length)
    progress.begin(`Measuring ${ids.length} frames`)
    await this.#measure(ids, { signal, onProgress: (done) => progress.tell(done) })
    signal.throwIfAborted()
  }

  async #one(
    plan: PlannedBuild,
    made: Map<string, Master>,
    outcome: BuildOutcome,
    signal: AbortSignal,
    progress: Progress,
  ): Promise<void> {
    const wait = (reason: string, have = plan.frames.length) =>
      void outcome.waiting.push({ kind: plan.kind, settings: plan.settings, have, need: plan.need, reason })
    if (plan.reason !== null) return wait(plan.reason)
    const dark = this.#darkFlatOf(plan, made)
    if (plan.kind === 'flat' && !dark) return wait('Its dark flat could not be built: see there.')
    const title = `${sayKind(plan.kind)} ${saySettings(plan.settings)}, ${plan.frames.length} frames`
    progress.begin(title.charAt(0).toUpperCase() + title.slice(1))
    try {
      const onProgress = (done: number, total: number) => progress.tell((done / total) * plan.frames.length)
      const built = await buildOne(this.#core, this.integrator, plan, dark, { signal, onProgress })
      progress.finish(plan.frames.length)
      if ('reason' in built) return wait(built.reason, plan.frames.length + plan.leftOut.length - built.leftOut.length)
      made.set(plan.id, built.master)
      if (built.thumbnail) storeThumbnail(this.#core.dataDir, 'master', built.master.id, built.thumbnail)
      outcome.built.push({
        ...built.master,
        rejected: built.leftOut.map(({ frame, reason }) => ({ path: frame.path, reason })),
      })
      this.#core.changed('library', 'night', 'builds')
    } catch (error) {
      if (signal.aborted || !(error instanceof Refusal)) throw error
      progress.finish(plan.frames.length)
      wait(error.message)
    }
  }

  #darkFlatOf({ darkFlat }: PlannedBuild, made: ReadonlyMap<string, Master>): Master | null {
    if (darkFlat?.group) return made.get(darkFlat.group) ?? null
    return darkFlat?.master ? (masterById(this.#core.db, darkFlat.master, this.#core.clock.now()) ?? null) : null
  }
}

const isAsked = (plan: PlannedBuild, { groups, kind }: BuildAsk) =>
  (!groups || groups.includes(plan.id)) && (!kind || plan.kind === kind)

function toGroup(plan: PlannedBuild): BuildGroup {
  const { id, kind, settings, frames, leftOut, need, reason, darkFlat, method } = plan
  return {
    id,
    kind,
    settings,
    have: frames.length,
    need,
    state: reason === null ? 'ready' : 'waiting',
    reason,
    frameIds: frames.map((frame) => frame.id),
    leftOut: leftOut.map(({ frame, reason }) => ({ frameId: frame.id, path: frame.path, reason })),
    darkFlat: darkFlat && { master: darkFlat.master, group: darkFlat.group },
    method: describeMethod(method),
    unmeasured: frames.filter((frame) => frame.figures === null).length,
    firstAt: frames[0]?.startedAt ?? null,
    lastAt: frames.at(-1)?.startedAt ?? null,
  }
}

/** Temporary files of a process that was killed in the middle of writing. */
function sweep(folder: string): void {
  let names: string[] = []
  try {
    names = readdirSync(folder)
  } catch {
    return
  }
  for (const name of names) {
    const pid = /^\.(\d+)-\w+\.part$/.exec(name)?.[1]
    if (pid && !isAlive(Number(pid))) rmSync(join(folder, name), { force: true })
  }
}

function isAlive(pid: number): boolean {
  if (pid === process.pid) return true
  try {
    return process.kill(pid, 0)
  } catch (error) {
    return (error as NodeJS.ErrnoException).code === 'EPERM'
  }
}

/** Tells how far a build is, in frames. */
class Progress {
  readonly #core: Core
  #total = 0
  #startMs = performance.now()
  #before = 0
  #title = 'Building masters'

  constructor(core: Core) {
    this.#core = core
  }

  /** From here on it is about so many frames, counted from the first. */
  over(frames: number): void {
    this.#total = frames
    this.#before = 0
    this.#startMs = performance.now()
  }

  begin(title: string): void {
    this.#title = title
    this.tell(0)
  }

  tell(frames: number): void {
    const done = this.#before + frames
    const elapsedS = (performance.now() - this.#startMs) / 1000
    const leftS = done > 0 && elapsedS > 1 ? Math.max(0, (elapsedS * (this.#total - done)) / done) : null
    this.#send(done, leftS, 'running', null)
  }

  finish(frames: number): void {
    this.#before += frames
    this.tell(0)
  }

  end(state: 'done' | 'stopped' | 'failed', text: string | null): void {
    this.#send(this.#before, state === 'done' ? 0 : null, state, text)
  }

  #send(
    done: number,
    leftS: number | null,
    state: 'running' | 'done' | 'stopped' | 'failed',
    text: string | null,
  ): void {
    const [title, total] = [this.#title, this.#total]
    this.#core.tell({ event: 'progress', job: JOB, title, done, total, leftS, state, text })
  }
}
