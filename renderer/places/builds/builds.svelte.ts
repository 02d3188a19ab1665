import type { Answer, BuildGroup, BuildOutcome } from '../../../main/contract/index.ts'
import type { EventOf } from '../../../main/contract/events.ts'
import { Refusal } from '../../../main/contract/refusal.ts'
import { Live } from '../../client/live.svelte.ts'
import type { Client } from '../../client/client.svelte.ts'
import type { Troubles } from '../../client/troubles.svelte.ts'

type Builds = Answer<'builds'>
const TOPICS = ['builds', 'night', 'library', 'settings'] as const
/** The job under which the engine tells how far a build is. */
const JOB = 'build'
/** Said whatever step it was stopped in: the engine's own sentence names the step. */
const STOPPED = 'The build was stopped: what was finished stays, and of the rest nothing is left.'

/** What can be built, what waits, the build under way and what the last one came to. */
export class BuildsState {
  readonly #client: Client
  readonly #troubles: Troubles
  #live = $state.raw<Live<'builds'>>() as Live<'builds'>
  #before = $state.raw<Builds>()
  #stopLive: (() => void) | null = null
  #keep = $state.raw<readonly number[]>([])
  #skipped = $state.raw<readonly string[]>([])
  #progress = $state.raw<EventOf<'progress'> | null>(null)
  #building = $state(false)
  #stopping = $state(false)
  #stopAsked = false
  #outcome = $state.raw<BuildOutcome | null>(null)
  #stoppedText = $state<string | null>(null)

  readonly #answer = $derived.by(() => this.#live.answer ?? this.#before)
  readonly #ready = $derived.by(() => (this.#answer?.groups ?? []).filter(({ state }) => state === 'ready'))
  readonly #waiting = $derived.by(() => (this.#answer?.groups ?? []).filter(({ state }) => state === 'waiting'))
  readonly #chosen = $derived.by(() => withDarkFlats(this.#ready, this.#skipped))

  constructor(client: Client, troubles: Troubles) {
    this.#client = client
    this.#troubles = troubles
    this.#live = new Live(client, 'builds', {}, TOPICS)
  }

  get known() {
    return this.#answer !== undefined
  }

  get failure() {
    return this.#live.failure
  }

  get ready() {
    return this.#ready
  }

  get waiting() {
    return this.#waiting
  }

  /** Those that a start would build: all that are ready, less those taken off by hand. */
  get chosen() {
    return this.#chosen
  }

  /** True while a build runs, whoever began it. */
  get running() {
    return this.#building || this.#progress !== null || (this.#answer?.running ?? null) !== null
  }

  get progress() {
    return this.#progress
  }

  get stopping() {
    return this.#stopping
  }

  /** What the last build that was begun here came to; null before its end. */
  get outcome() {
    return this.#outcome
  }

  /** What stopping left behind, as a sentence; null where nothing was stopped. */
  get stoppedText() {
    return this.#stoppedText
  }

  isKept = (frame: number) => this.#keep.includes(frame)

  start(): () => void {
    this.#stopLive = this.#live.start()
    const off = this.#client.on('progress', (progress) => this.#note(progress))
    return () => {
      off()
      this.#stopLive?.()
      this.#stopLive = null
    }
  }

  /** Takes a group off the next build, or puts it back. */
  toggle(group: string) {
    this.#skipped = this.#skipped.includes(group)
      ? this.#skipped.filter((other) => other !== group)
      : [...this.#skipped, group]
  }

  /** Puts a frame back that would be left out, or leaves it out again; the groups are planned anew with it. */
  keep(frame: number, kept: boolean) {
    const others = this.#keep.filter((other) => other !== frame)
    this.#keep = kept ? [...others, frame] : others
    this.#before = this.#answer
    const watched = this.#stopLive !== null
    this.#stopLive?.()
    this.#live = new Live(this.#client, 'builds', this.#keep.length ? { keep: [...this.#keep] } : {}, TOPICS)
    this.#stopLive = watched ? this.#live.start() : null
  }

  async build() {
    this.#building = true
    this.#stopAsked = false
    this.#outcome = null
    this.#stoppedText = null
    const input = { groups: this.#chosen.map(({ id }) => id), keep: [...this.#keep], wait: true }
    const answer = await this.#troubles.attempt('building masters', () => this.#askToBuild(input))
    this.#building = false
    this.#progress = null
    this.#outcome = answer?.outcome ?? null
    await this.#live.refresh()
  }

  async stop() {
    this.#stopping = true
    this.#stopAsked = true
    await this.#troubles.attempt('stopping the build', () => this.#client.ask('stopBuild', {}))
    this.#stopping = false
    await this.#live.refresh()
  }

  /** A build that was stopped by hand ends with a refusal: no trouble, but what was wanted. */
  async #askToBuild(input: { groups: string[]; keep: number[]; wait: boolean }) {
    try {
      return await this.#client.ask('startBuild', input)
    } catch (error) {
      if (!this.#stopAsked || !(error instanceof Refusal)) throw error
      this.#stoppedText = STOPPED
      return undefined
    }
  }

  #note(progress: EventOf<'progress'>) {
    if (progress.job !== JOB) return
    this.#progress = progress.state === 'running' ? progress : null
    if (progress.state !== 'running') void this.#live.refresh()
  }
}

/** A flat whose dark flat would be built before it can't go without it. */
function withDarkFlats(ready: readonly BuildGroup[], skipped: readonly string[]): BuildGroup[] {
  const taken = ready.filter(({ id }) => !skipped.includes(id))
  const needed = new Set(taken.flatMap(({ darkFlat }) => darkFlat?.group ?? []))
  return ready.filter((group) => taken.includes(group) || needed.has(group.id))
}
