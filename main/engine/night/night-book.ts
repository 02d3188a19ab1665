import type { Frame, Tonight } from '../../contract/index.ts'
import { nightBounds, nightOf } from '../../frame/night.ts'
import { assess } from '../../rules/assess.ts'
import { sunTimes } from '../../rules/sun.ts'
import type { Assessment, NightState } from '../../rules/state.ts'
import { immediately } from '../../../db/handle.ts'
import { framesOfNight, hasFrames, newestNight, sizeOfNight } from '../../../db/tables/frames.ts'
import { closeNotice, openNotices, putNotice } from '../../../db/tables/notices.ts'
import { rigSpans } from '../../../db/tables/rigs.ts'
import type { Core } from '../core.ts'
import { isFilterByHand } from '../rigs/spans.ts'
import { siteSetting, type Site } from '../settings.ts'
import { acceptedFlats } from './accepted-flats.ts'
import { darksOverNoon, nightOfItsRuns } from './over-noon.ts'
import { roomH } from './pace.ts'
import { noWants, want } from './raw-frames.ts'

/** One night as it stands: its frames, and what the rules say of them. */
export interface NightPage extends Assessment {
  night: string
  frames: Frame[]
  site: Site | null
  sun: Tonight['sun']
  roomH: number | null
}

/** An assessment depends on the clock too (dawn, pauses): older than this it is made again. */
const FRESH_MS = 5_000

/** A frame that lands this far from its own time is no frame of now: a replayed night, or a camera computer's wrong clock. */
const REPLAY_MS = 30 * 60_000
/** So long after its last frame landed a replay counts as over. */
const REPLAY_LASTS_MS = 15 * 60_000

/** The nights, assessed. A cache: `forget` drops it. */
export class NightBook {
  readonly #core: Core
  #pages = new Map<string, { page: NightPage; madeMs: number }>()

  /** The frame that landed last while watching: its night, when it ended, and when it landed. */
  #landed: { night: string; endMs: number; atMs: number } | null = null

  constructor(core: Core) {
    this.#core = core
  }

  /** A frame has just been written. */
  landed({ night, startedAt, exposureS }: Frame): void {
    if (startedAt === null) return
    const endMs = Date.parse(startedAt) + (exposureS ?? 0) * 1000
    this.#landed = { night, endMs, atMs: this.#core.clock.now().getTime() }
  }

  /**
   * The moment at which a night is judged and shown: now; while a night is being replayed (the demo), the end of the frame
   * that landed last, so that it is told as it was, and not as over.
   */
  nowOf(night: string): Date {
    const now = this.#core.clock.now()
    const last = this.#landed
    if (last?.night !== night || now.getTime() - last.atMs > REPLAY_LASTS_MS) return now
    return Math.abs(last.atMs - last.endMs) > REPLAY_MS ? new Date(last.endMs) : now
  }

  /** The moment at which a night's frames are judged: as `nowOf`, but a night that is over at its own end. */
  momentOf(night: string): Date {
    return new Date(Math.min(this.nowOf(night).getTime(), this.endOf(night)))
  }

  /** The night of a moment, at the user's site or in the machine's zone. */
  nightOf(atMs: number): string {
    const { zone, db } = this.#core
    return nightOf({ atMs, siteLongDeg: siteSetting(db)?.longDeg ?? null, zone })
  }

  /** The night that the clock stands in. */
  current(): string {
    return this.nightOf(this.#core.clock.now().getTime())
  }

  /** When a night ends (local noon), ms. */
  endOf(night: string): number {
    const { zone, db } = this.#core
    return nightBounds(night, { siteLongDeg: siteSetting(db)?.longDeg ?? null, zone }).endsMs
  }

  /** The current night if it has frames (darks that go on over noon are still the last night's), else the newest logged. */
  usual(): string {
    const { db } = this.#core
    const current = this.current()
    return hasFrames(db, current) ? nightOfItsRuns(db, current) : (newestNight(db) ?? current)
  }

  page(night: string): NightPage {
    const nowMs = this.#core.clock.now().getTime()
    const known = this.#pages.get(night)
    if (known && Math.abs(nowMs - known.madeMs) < FRESH_MS) return known.page
    const page = this.#assess(night)
    if (this.#pages.size > 8) this.#pages.clear()
    this.#pages.set(night, { page, madeMs: nowMs })
    return page
  }

  forget(): void {
    this.#pages.clear()
  }

  #assess(night: string): NightPage {
    const { site, beginsMs, ...state } = this.#gather(night)
    const assessment = assess({ ...state, site })
    this.#remember(night, state, assessment)
    const { frames, roomH = null } = state
    return { night, frames, site, sun: site && sunOf(site, beginsMs), roomH, ...assessment }
  }

  /** Everything that the rules judge a night by, as it stands now. */
  state(night: string): NightState {
    const { beginsMs: _, ...state } = this.#gather(night)
    return state
  }

  #gather(night: string): NightState & { site: Site | null; beginsMs: number } {
    const { db, zone, shelf, judging, watches, isOutOfReach } = this.#core
    const reached = (frame: Frame) => asReached(this.#core, frame)
    const frames = framesOfNight(db, night).map(reached)
    const site = siteOf(frames) ?? siteSetting(db)
    const { beginsMs, endsMs } = nightBounds(night, { siteLongDeg: site?.longDeg ?? null, zone })
    const wants = noWants()
    for (const frame of frames) want(wants, frame)
    const accepted = acceptedFlats(db, frames, shelf.masters, { date: night, beginsMs })
    return {
      night,
      now: this.nowOf(night).toISOString(),
      beginsMs,
      endsAt: new Date(endsMs).toISOString(),
      frames,
      overNoon: darksOverNoon(db, night).map(reached),
      masters: shelf.masters,
      match: judging.context(wants, night),
      zone,
      site,
      rigs: [...Map.groupBy(rigSpans(db), (span) => span.rig)].map(([name, spans]) => ({
        name,
        filterByHand: isFilterByHand(spans),
      })),
      acceptedFlats: accepted,
      watches: watches(),
      passedOver: this.#core.passedOver(night),
      // Nobody asks a disk that does not answer how full it is.
      roomH:
        night === this.current() && !isOutOfReach(frames.at(-1)?.path ?? '')
          ? roomH(frames, sizeOfNight(db, night).bytes)
          : null,
      known: openNotices(db, night),
    }
  }

  /** Keeps when notices opened and which are closed; writes only what is different. */
  #remember(night: string, { known = [], now }: NightState, { notices }: Assessment): void {
    const before = new Map(known.map((notice) => [notice.id, notice]))
    const fresh = notices.filter((notice) => {
      const old = before.get(notice.id)
      return (
        old?.severity !== notice.severity ||
        old.openedAt !== notice.openedAt ||
        old.acknowledged !== notice.acknowledged
      )
    })
    const open = new Set(notices.map((notice) => notice.id))
    const closed = known.filter((notice) => !open.has(notice.id))
    if (fresh.length + closed.length === 0) return
    const { db } = this.#core
    immediately(db, () => {
      for (const notice of fresh) putNotice(db, night, notice, now)
      for (const { id } of closed) closeNotice(db, night, id, now)
    })
  }
}

/** A frame as it can be had at the moment: its file may be out of reach. */
export const asReached = ({ isOutOfReach, isMissing }: Core, frame: Frame): Frame =>
  frame.state === 'ok' && (isOutOfReach(frame.path) || isMissing(frame.path))
    ? { ...frame, state: 'out of reach' }
    : frame

/** Where the frames say that they were taken. */
function siteOf(frames: readonly Frame[]): Site | null {
  for (const { siteLatDeg: latDeg, siteLongDeg: longDeg } of frames)
    if (latDeg !== null && longDeg !== null) return { name: null, latDeg, longDeg }
  return null
}

function sunOf(site: Site, beginsMs: number): NonNullable<Tonight['sun']> {
  const times = sunTimes(site, beginsMs)
  const iso = (ms: number | null) => (ms === null ? null : new Date(ms).toISOString())
  return {
    sunsetAt: iso(times.sunsetMs),
    duskAt: iso(times.duskMs),
    darkestFrom: iso(times.darkestFromMs),
    darkestTo: iso(times.darkestToMs),
    dawnAt: iso(times.dawnMs),
    sunriseAt: iso(times.sunriseMs),
  }
}
