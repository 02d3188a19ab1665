import type { Frame, Tolerances } from '../../contract/index.ts'
import { darkKey, flatKey } from '../../frame/keys.ts'
import type { MatchContext, RawGroup } from '../../match/context.ts'
import { summariseRaw } from '../../match/raw.ts'
import type { Shelf } from '../library/shelf.ts'
import type { Readable } from '../../../db/handle.ts'
import { unbuiltDarks, unbuiltFlats } from '../../../db/tables/nearby-raw-frames.ts'

/** What frames of a night ask of raw calibration frames: darks by key and exposure, flats by key. */
export interface Wants {
  darks: Map<string, { key: string; exposureS: number }>
  flats: Set<string>
}

export const noWants = (): Wants => ({ darks: new Map(), flats: new Set() })

/** Adds what one frame wants. @returns true if it was not wanted before */
export function want(wants: Wants, frame: Frame): boolean {
  if (frame.aside || frame.integrated || (frame.kind !== 'light' && frame.kind !== 'flat')) return false
  const before = sizeOf(wants)
  if (frame.exposureS !== null) {
    const key = darkKey(frame)
    wants.darks.set(`${key}${frame.exposureS}`, { key, exposureS: frame.exposureS })
  }
  if (frame.kind === 'light') wants.flats.add(flatKey(frame))
  return sizeOf(wants) > before
}

const sizeOf = ({ darks, flats }: Wants) => darks.size + flats.size

/** Adds everything that others want. @returns true if any of it was not wanted before */
function wantAll(wants: Wants, others: Wants): boolean {
  const before = sizeOf(wants)
  for (const [name, dark] of others.darks) wants.darks.set(name, dark)
  for (const key of others.flats) wants.flats.add(key)
  return sizeOf(wants) > before
}

/** Nights whose raw frames are remembered: tonight's, and those that somebody looks at meanwhile. */
const MOST_NIGHTS = 4

/**
 * The raw calibration frames that may serve a night and that no master has taken in, summed up. Reading them is most of what
 * judging a night takes, and every light that lands has the night judged again. A cache: `forget` drops it.
 */
export class RawFrames {
  readonly #db: Readable
  readonly #shelf: Shelf
  readonly #nights = new Map<string, { wants: Wants; groups: RawGroup[] | null }>()

  constructor(db: Readable, shelf: Shelf) {
    this.#db = db
    this.#shelf = shelf
  }

  /** Those that serve these wants, and maybe others of the same night; those of the nights nearest to it. */
  groups(wants: Wants, night: string, { tolerances, changes }: MatchContext): RawGroup[] {
    const known = this.#nights.get(night) ?? { wants: noWants(), groups: null }
    this.#nights.delete(night)
    if (this.#nights.size >= MOST_NIGHTS) this.#nights.delete(this.#nights.keys().next().value!)
    this.#nights.set(night, known)
    if (wantAll(known.wants, wants)) known.groups = null
    return (known.groups ??= summariseRaw(
      rawFramesFor(this.#db, known.wants, night, tolerances),
      this.#shelf.masters,
      changes,
    ))
  }

  forget(): void {
    this.#nights.clear()
  }
}

function rawFramesFor(db: Readable, wants: Wants, night: string, tolerances: Tolerances): Frame[] {
  const raw = new Map<number, Frame>()
  const add = (frames: Frame[]) => frames.forEach((frame) => raw.set(frame.id, frame))
  for (const { key, exposureS } of wants.darks.values()) {
    const slackS = Math.max(tolerances.exposureS, exposureS * tolerances.exposureFraction) * 1.01
    for (const kind of ['dark', 'darkFlat'] as const)
      add(unbuiltDarks(db, { key, kind, leastS: exposureS - slackS, mostS: exposureS + slackS }, night))
  }
  for (const key of wants.flats) add(unbuiltFlats(db, key, night))
  return [...raw.values()]
}
