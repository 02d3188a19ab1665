import type { Frame, Tolerances } from '../../contract/index.ts'
import { darkKey, flatKey } from '../../frame/keys.ts'
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
  const before = wants.darks.size + wants.flats.size
  if (frame.exposureS !== null) {
    const key = darkKey(frame)
    wants.darks.set(`${key}${frame.exposureS}`, { key, exposureS: frame.exposureS })
  }
  if (frame.kind === 'light') wants.flats.add(flatKey(frame))
  return wants.darks.size + wants.flats.size > before
}

/** The raw calibration frames that may serve these and that no master has taken in, those of nights nearest to this one. */
export function rawFramesFor(db: Readable, wants: Wants, night: string, tolerances: Tolerances): Frame[] {
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
