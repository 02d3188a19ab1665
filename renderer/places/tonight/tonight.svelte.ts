import type { Notice, Tonight } from '../../../main/contract/index.ts'
import type { EventOf } from '../../../main/contract/events.ts'
import { URGENCIES, type Urgency } from '../../../main/contract/words.ts'
import { Live } from '../../client/live.svelte.ts'
import type { Client } from '../../client/client.svelte.ts'
import { withRigs } from './notice-frames.ts'

type Latest = Tonight['latest'][number]
/** Frames of a backlog land by the hundred a second: so often the band is drawn anew at most, ms. */
const LEAST_PAUSE_MS = 100

type Shortfall = Tonight['shortfall'][number]

/** What the engine said last, with what landed since: a frame's verdicts are on the page before all else is asked again. */
export class TonightState {
  readonly #client: Client
  readonly #live: Live<'tonight'>
  #landed = $state.raw<readonly Latest[]>([])
  /** What landed since the band was last drawn, one a rig. */
  #landing: readonly Latest[] = []
  #shownAt = -Infinity
  #later: ReturnType<typeof setTimeout> | undefined

  readonly #latest = $derived.by(() => newest(this.#live.answer?.latest ?? [], this.#landed))
  readonly #notices = $derived.by(() => byNewest(this.#live.answer ? withRigs(this.#live.answer) : []))
  readonly #open = $derived.by(() => this.#notices.filter(({ acknowledged }) => !acknowledged))
  readonly #seen = $derived.by(() => this.#notices.filter(({ acknowledged }) => acknowledged))
  readonly #urgent = $derived.by(() => this.#open.filter(({ severity }) => severity === 'actNow'))
  readonly #toShoot = $derived.by(() => byUrgency(this.#live.answer?.shortfall ?? []))

  constructor(client: Client, night?: string) {
    this.#client = client
    this.#live = new Live(client, 'tonight', night ? { night } : {}, ['night', 'library', 'folders', 'settings'])
  }

  get answer() {
    return this.#live.answer
  }

  refresh = () => this.#live.refresh()

  get failure() {
    return this.#live.failure
  }

  /** The frame that landed last, one a rig. */
  get latest() {
    return this.#latest
  }

  /** Notices not yet acknowledged, newest first. */
  get openNotices() {
    return this.#open
  }

  get seenNotices() {
    return this.#seen
  }

  get urgentNotices() {
    return this.#urgent
  }

  /** Rows still to be shot, in groups of one urgency, most urgent first. */
  get toShoot() {
    return this.#toShoot
  }

  start(): () => void {
    const offs = [this.#live.start(), this.#client.on('landed', (event) => this.#land(event))]
    return () => {
      clearTimeout(this.#later)
      this.#later = undefined
      offs.forEach((off) => off())
    }
  }

  #land({ frame, verdicts, number }: EventOf<'landed'>) {
    const others = this.#landing.filter(({ rig }) => rig !== frame.rig)
    this.#landing = [...others, { rig: frame.rig, frame, verdicts, number }]
    const waitMs = this.#shownAt + LEAST_PAUSE_MS - performance.now()
    if (waitMs <= 0) this.#showLanded()
    else this.#later ??= setTimeout(() => this.#showLanded(), waitMs)
  }

  #showLanded() {
    clearTimeout(this.#later)
    this.#later = undefined
    this.#shownAt = performance.now()
    this.#landed = this.#landing
  }
}

/** Per rig the newer of what was answered and what landed since. An answer of the same frame is the fresher one. */
function newest(answered: readonly Latest[], landed: readonly Latest[]): Latest[] {
  const rigs = [...new Set([...answered, ...landed].map(({ rig }) => rig))]
  return rigs.map((rig) => {
    const [known, fresh] = [answered, landed].map((entries) => entries.find((entry) => entry.rig === rig))
    return !known || (fresh && fresh.frame.id > known.frame.id) ? fresh! : known
  })
}

const byNewest = (notices: Notice[]) => notices.toSorted((a, b) => b.openedAt.localeCompare(a.openedAt))

function byUrgency(rows: readonly Shortfall[]): { urgency: Urgency; rows: Shortfall[] }[] {
  return URGENCIES.map((urgency) => ({ urgency, rows: rows.filter((row) => row.urgency === urgency) })).filter(
    (group) => group.rows.length > 0,
  )
}
