import type { Figures, Frame, Master, Notice, RuleName, TrainChange, Urgency } from '../../main/contract/index.ts'
import type { MatchContext } from '../../main/match/context.ts'
import { summariseRaw } from '../../main/match/raw.ts'
import { assess } from '../../main/rules/assess.ts'
import type { Assessment, NightState } from '../../main/rules/state.ts'
import { aChange, aContext, aFrame, aMaster, aMasterFlat } from '../match/samples.ts'

/** An invented site at 54° north: that night the Sun is 12° down from 17:27 to 06:24 UTC (astropy 5.2.1). */
export const site = { name: 'Fell End', latDeg: 54.4, longDeg: -2.4 }
export const date = '2026-11-20'

/** "21:30" of the night, UTC; hours below 12 are of the next morning. */
export function at(time: string): string {
  const [h, m] = time.split(':').map(Number)
  return new Date(Date.parse(`${date}T00:00:00Z`) + ((h < 12 ? h + 24 : h) * 60 + m) * 60_000).toISOString()
}

/** Pixels of a well exposed flat, unless said otherwise (16 bits, 4144 × 2822). */
export const figures = (changes: Partial<Figures> = {}): Figures => ({
  width: 4144,
  height: 2822,
  median: 28_000,
  mean: 28_000,
  sd: 300,
  min: 20_000,
  max: 65_535,
  clippedLow: 0,
  clippedHigh: 12,
  noise: 180,
  channels: null,
  ...changes,
})

/** What a frame of a series differs in by its number, beside what all differ in. */
type Shape = Partial<Frame> | ((i: number) => Partial<Frame>)

/**
 * A night that is played: frames are shot one after another, as capture software would, and the night is assessed at any moment.
 * It begins with a shelf that covers the sample settings (300 s, gain 120, offset 30, −10 °C, dual-band).
 */
export class SimulatedNight {
  frames: Frame[] = []
  masters: Master[]
  changes: TrainChange[] = []
  context: Partial<MatchContext> = {}
  state: Partial<NightState> = { site, zone: 'UTC' }
  #ms = Date.parse(at('18:00'))
  #id = 0
  /** From the end of an exposure to the start of the next, s. */
  readoutS = 3

  constructor(masters: Master[] = usualShelf()) {
    this.masters = masters
  }

  /** Lets the clock run on to a time of the night. */
  until(time: string): this {
    this.#ms = Date.parse(at(time))
    return this
  }

  pause(minutes: number): this {
    this.#ms += minutes * 60_000
    return this
  }

  shoot(count: number, shape: Shape = {}): this {
    for (let i = 0; i < count; i++) {
      const changes = typeof shape === 'function' ? shape(i) : shape
      const frame = aFrame({ ...changes, id: ++this.#id, night: date, startedAt: new Date(this.#ms).toISOString() })
      frame.path = changes.path ?? `/night/${frame.kind}-${frame.id}.fits`
      this.frames.push(frame)
      this.#ms += ((frame.exposureS ?? 0) + this.readoutS) * 1000
    }
    return this
  }

  lights = (count: number, shape: Shape = {}) => this.shoot(count, withBase({ kind: 'light' }, shape))
  flats = (count: number, shape: Shape = {}) =>
    this.shoot(count, withBase({ kind: 'flat', target: null, exposureS: 3.5, figures: figures() }, shape))
  darkFlats = (count: number, shape: Shape = {}) =>
    this.shoot(count, withBase({ kind: 'darkFlat', target: null, filter: null, exposureS: 3.5 }, shape))
  darks = (count: number, shape: Shape = {}) =>
    this.shoot(count, withBase({ kind: 'dark', target: null, filter: null }, shape))

  change(changes: Partial<TrainChange> = {}): this {
    this.changes.push(aChange({ at: new Date(this.#ms).toISOString(), ...changes }))
    return this
  }

  /** The night as an engine would hand it over at this moment: only what has landed by then. */
  stateAt(now: string, more: Partial<NightState> = {}): NightState {
    const nowMs = Date.parse(now)
    const landed = this.frames.filter((f) => Date.parse(f.startedAt ?? '') + (f.exposureS ?? 0) * 1000 <= nowMs)
    const changes = this.changes.filter((c) => Date.parse(c.at) <= nowMs)
    const raw = summariseRaw(landed, this.masters, changes)
    const match = aContext({ now, raw, changes, ...this.context })
    return { night: date, now, frames: landed, masters: [...this.masters], match, ...this.state, ...more }
  }

  assessAt(time: string, more: Partial<NightState> = {}): Assessment {
    return assess(this.stateAt(at(time), more))
  }

  /** As somebody sees it who opens the night days later. */
  assessLater(): Assessment {
    return assess(this.stateAt('2026-11-25T12:00:00Z'))
  }
}

const withBase = (base: Partial<Frame>, shape: Shape): Shape =>
  typeof shape === 'function' ? (i) => ({ ...base, ...shape(i) }) : { ...base, ...shape }

/** A dark and a dark flat of the sample settings, 41 days old, and a flat of 18 days. */
export const usualShelf = (): Master[] => [
  aMaster({ id: 1 }),
  aMaster({ id: 2, kind: 'darkFlat', exposureS: 3.5 }),
  aMasterFlat({ id: 3 }),
]

/** What is compared: rule, severity and how many frames, in no order. */
export const summarise = (notices: readonly Notice[]): string[] =>
  notices.map((n) => say(n.rule, n.severity, n.frames)).sort()

export const say = (rule: RuleName, severity: Urgency, frames: number) => `${rule} ${severity} ${frames}`
