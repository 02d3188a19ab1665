import type { Frame, Tolerances } from '../../contract/index.ts'
import { darkKey, flatKey } from '../../frame/keys.ts'
import type { Readable } from '../../../db/handle.ts'
import { unbuiltDarks, unbuiltFlats } from '../../../db/tables/frames.ts'

const DAY_MS = 86_400_000
/** Raw frames older than this serve nobody: a dark is asked for a check by then, a flat's epoch is long over. */
const RAW_DAYS = 366

/** What frames of a night ask of raw calibration frames: darks by key and exposure, flats by key. */
export interface Wants {
  darks: Map<string, { key: string; exposureS: number }>
  flats: Set<string>
}

export const noWants = (): Wants => ({ darks: new Map(), flats: new Set() })

/** Adds what one frame wants. @returns true if it was not wanted before */
export function want(wants: Wants, frame: Frame): boolean {
  if (frame.aside || frame.integrated || (frame.kind !== 'light' && frame.kind !== 'flat')) return false
  const before = wants.darks.size + wants.flats.size
  if (frame.exposureS !== null) {
    const key = darkKey(frame)
    wants.darks.set(`${key}${frame.exposureS}`, { key, exposureS: frame.exposureS })
  }
  if (frame.kind === 'light') wants.flats.add(flatKey(frame))
  return wants.darks.size + wants.flats.size > before
}

/** The raw calibration frames, of any night of the last year, that may serve these and that no master has taken in. */
export function rawFramesFor(db: Readable, wants: Wants, night: string, tolerances: Tolerances): Frame[] {
  const since = new Date(Date.parse(night) - RAW_DAYS * DAY_MS).toISOString().slice(0, 10)
  const raw = new Map<number, Frame>()
  const add = (frames: Frame[]) => frames.forEach((frame) => raw.set(frame.id, frame))
  for (const { key, exposureS } of wants.darks.values()) {
    const slackS = Math.max(tolerances.exposureS, exposureS * tolerances.exposureFraction) * 1.01
    add(unbuiltDarks(db, key, exposureS - slackS, exposureS + slackS, since))
  }
  for (const key of wants.flats) add(unbuiltFlats(db, key, since))
  return [...raw.values()]
}
