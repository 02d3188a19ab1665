import { lstatSync } from 'node:fs'
import type { FrameFacts } from '../../frame/facts.ts'
import type { Writable } from '../../../db/handle.ts'
import { putCards } from '../../../db/tables/cards.ts'
import { fileAt, filesOfFrame, forgetFile, putFile } from '../../../db/tables/files.ts'
import { forgetMeasured } from '../../../db/tables/frame-figures.ts'
import {
  amendFrame,
  frameByFingerprint,
  frameIdentity,
  insertFrame,
  moveFrame,
  setFrameState,
  type FrameIdentity,
} from '../../../db/tables/frames.ts'
import type { FrameReading } from './read.ts'

/** A file as it was read, and what it says. */
export type Sighted = Omit<FrameReading, 'info'> & { facts: FrameFacts }

/**
 * What became of a file: a frame nobody had seen (`logged`), new bytes under a known name (`amended`), or a frame that is
 * there already; then `moved` where its old path is gone, `duplicate` where it is not, `known` where it stood here before.
 */
export interface Placed {
  id: number
  outcome: 'logged' | 'amended' | 'already'
  how: 'new' | 'amended' | 'known' | 'moved' | 'duplicate'
  /** True for a master among raw frames. */
  integrated: boolean
}

/** Says whether a path is gone for good, and not just out of reach with its disk. */
export type IsGone = (path: string) => boolean

/**
 * Gives one file its place in the log. Runs inside a transaction of the caller; a frame is what its fingerprint says it is, and
 * a path is only where its bytes stand, so that renaming, copying and swapping names neither lose a frame nor log it twice.
 */
export function placeFrame(db: Writable, reading: Sighted, at: string, isGone: IsGone): Placed {
  const known = frameByFingerprint(db, reading.fingerprint)
  const here = fileAt(db, reading.path)
  const placed = known
    ? meetAgain(db, known, here?.frameId, reading, isGone)
    : here && nowhereElse(db, here.frameId, reading.path, isGone)
      ? amend(db, here.frameId, reading, at)
      : first(db, here?.frameId, reading, at, isGone)
  putFile(db, { path: reading.path, frameId: placed.id, ...reading.stat }, at)
  return placed
}

function first(db: Writable, displaced: number | undefined, reading: Sighted, at: string, isGone: IsGone): Placed {
  const id = insertFrame(db, newFrame(reading), at)
  putCards(db, id, reading.headerBytes)
  if (displaced !== undefined) leavePath(db, displaced, reading.path, isGone)
  return { id, outcome: 'logged', how: 'new', integrated: reading.facts.integrated === true }
}

function amend(db: Writable, id: number, reading: Sighted, at: string): Placed {
  amendFrame(db, id, newFrame(reading), at)
  putCards(db, id, reading.headerBytes)
  forgetMeasured(db, id)
  return { id, outcome: 'amended', how: 'amended', integrated: reading.facts.integrated === true }
}

function meetAgain(
  db: Writable,
  frame: FrameIdentity,
  displaced: number | undefined,
  reading: Sighted,
  isGone: IsGone,
): Placed {
  if (displaced !== undefined && displaced !== frame.id) leavePath(db, displaced, reading.path, isGone)
  const { state } = reading.facts
  if (frame.state !== state) setFrameState(db, frame.id, state, reading.problem)
  const { id } = frame
  const again = { id, outcome: 'already' as const, integrated: frame.integrated === 1 }
  if (frame.path === reading.path) return { ...again, how: 'known' }
  const known = filesOfFrame(db, id)
  // Its own path may be another frame's by now: what counts is where this frame's bytes are known to stand.
  const lives = known.some((file) => file.path === frame.path) && !isGone(frame.path)
  if (lives) return { ...again, how: known.some((file) => file.path === reading.path) ? 'known' : 'duplicate' }
  if (fileAt(db, frame.path)?.frameId === id) forgetFile(db, frame.path)
  moveFrame(db, id, reading.path)
  return { ...again, how: 'moved' }
}

const newFrame = ({ fingerprint, stat, problem, facts }: Sighted) => ({
  facts,
  fingerprint,
  size: stat.size,
  problem,
})

/** True where no other path holds this frame's bytes any more: then new bytes here are the same frame, rewritten. */
const nowhereElse = (db: Writable, frameId: number, path: string, isGone: IsGone): boolean =>
  filesOfFrame(db, frameId).every((file) => file.path === path || isGone(file.path))

/**
 * A frame's bytes stand here no more. Another copy becomes its own; without one it is gone (or out of reach, where another disk
 * stands in its place), until it is found again.
 */
export function leavePath(
  db: Writable,
  frameId: number,
  path: string,
  isGone: IsGone,
  state: 'gone' | 'out of reach' = 'gone',
): void {
  if (fileAt(db, path)?.frameId === frameId) forgetFile(db, path)
  const frame = frameIdentity(db, frameId)
  if (!frame || frame.path !== path) return
  const other = filesOfFrame(db, frameId).find((file) => !isGone(file.path))
  if (other) moveFrame(db, frameId, other.path)
  else setFrameState(db, frameId, state, frame.problem)
}

/** Whether nothing stands at this path. A folder that cannot be looked into proves nothing. */
export function isAbsent(path: string): boolean {
  try {
    lstatSync(path)
    return false
  } catch (error) {
    const { code } = error as NodeJS.ErrnoException
    return code === 'ENOENT' || code === 'ENOTDIR'
  }
}
