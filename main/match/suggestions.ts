import type { Frame, Scope, TrainChange } from '../contract/index.ts'
import { compareField } from '../frame/keys.ts'
import { focalDiffers } from './agreement.ts'
import { isUsable } from './raw.ts'
import { obtain } from './memo.ts'

/** A train change that headers hint at. It is offered, never applied: the user says yes or no. */
export interface ChangeSuggestion {
  /** The same for the same hint. */
  id: string
  rig: string
  scope: Scope
  /** UTC start of the first frame that looks different. */
  at: string
  text: string
  field: 'telescope' | 'focalMm' | 'body' | 'skyAngleDeg'
  before: number | string
  after: number | string
}

/** A sky angle is stable if it stays within this over the frames before, degrees. */
const stableDeg = 0.5
/** How many frames must have shown it stable: an alt-azimuth mount turns the sky all night and never does. */
const stableFrames = 5
/** A turn of the camera by hand is more than this; a plate solver's scatter, flexure and a new target are less. */
const turnedDeg = 2

/**
 * Hints at train changes between frames of one rig: another telescope, focal length or camera body; or a camera that was turned.
 * The sky angle is evidence only modulo 180° (a mount's flip turns it by that and touches nothing), only when it was stable
 * before and is stable after, and only as far as no rotator explains it. Time that passes is no hint.
 * @param frames of any nights and rigs, in any order
 */
export function suggestChanges(frames: readonly Frame[], changes: readonly TrainChange[]): ChangeSuggestion[] {
  const byRig = new Map<string, Frame[]>()
  for (const frame of frames) {
    if (frame.rig === null || frame.kind !== 'light' || frame.startedAt === null || !isUsable(frame)) continue
    obtain(byRig, frame.rig, () => []).push(frame)
  }
  return [...byRig].flatMap(([rig, own]) => {
    own.sort((a, b) => Date.parse(a.startedAt ?? '') - Date.parse(b.startedAt ?? '') || a.id - b.id)
    const logged = changes.filter((c) => c.rig === rig && c.undoneAt === null)
    return [...settingHints(rig, own), ...turnHints(rig, own)].filter((hint) => !isLogged(hint, own, logged))
  })
}

/** A change logged between the last frame that looked as before and the first that looks different needs no hint. */
function isLogged(hint: ChangeSuggestion, frames: readonly Frame[], logged: readonly TrainChange[]): boolean {
  const at = Date.parse(hint.at)
  const before = frames.filter((f) => Date.parse(f.startedAt ?? '') < at).at(-1)
  const from = Date.parse(before?.startedAt ?? '')
  return logged.some((c) => Date.parse(c.at) > from && Date.parse(c.at) <= at && c.scope !== 'filter')
}

function settingHints(rig: string, frames: readonly Frame[]): ChangeSuggestion[] {
  const hints: ChangeSuggestion[] = []
  // The last known value stands until another is known: a frame without TELESCOP changes nothing.
  let telescope: string | null = null
  let focalMm: number | null = null
  let body: string | null = null
  for (const frame of frames) {
    if (telescope !== null && compareField(telescope, frame.telescope) === 'differs')
      hints.push(hint(rig, frame, 'telescope', 'train', telescope, frame.telescope ?? ''))
    else if (focalDiffers(focalMm, frame.focalMm))
      hints.push(hint(rig, frame, 'focalMm', 'train', focalMm ?? 0, frame.focalMm ?? 0))
    if (body !== null && compareField(body, frame.body) === 'differs')
      hints.push(hint(rig, frame, 'body', 'camera', body, frame.body ?? ''))
    telescope = frame.telescope ?? telescope
    focalMm = frame.focalMm || focalMm
    body = frame.body ?? body
  }
  return hints
}

const sayings = {
  telescope: 'The telescope in the headers is another one',
  focalMm: 'The focal length in the headers is another one',
  body: 'Another camera body took these',
  skyAngleDeg: 'The camera seems to have been turned',
}

function hint(
  rig: string,
  frame: Frame,
  field: ChangeSuggestion['field'],
  scope: Scope,
  before: number | string,
  after: number | string,
): ChangeSuggestion {
  const at = frame.startedAt ?? ''
  const values =
    field === 'skyAngleDeg' ? `${Number(before).toFixed(1)}° to ${Number(after).toFixed(1)}°` : `${before} to ${after}`
  return { id: `${rig}/${at}/${field}`, rig, scope, at, field, before, after, text: `${sayings[field]}: ${values}` }
}

/** Where five stable angles are followed by five that are stable elsewhere, and no rotator turned by as much. */
function turnHints(rig: string, frames: readonly Frame[]): ChangeSuggestion[] {
  const known = frames.filter((f) => f.skyAngleDeg !== null)
  const hints: ChangeSuggestion[] = []
  for (let i = stableFrames; i + stableFrames <= known.length; i++) {
    const before = stableAngle(known.slice(i - stableFrames, i))
    const after = stableAngle(known.slice(i, i + stableFrames))
    if (before === null || after === null) continue
    const turn = lineTurn(after, before)
    if (Math.abs(turn) <= turnedDeg || rotatorDid(known[i - 1], known[i], turn)) continue
    hints.push(hint(rig, known[i], 'skyAngleDeg', 'train', before, after))
  }
  return hints
}

/** Modulo 180°, −90…90: how far a line is turned against another. */
function lineTurn(a: number, b: number): number {
  const turn = (((a - b) % 180) + 180) % 180
  return turn > 90 ? turn - 180 : turn
}

function stableAngle(frames: readonly Frame[]): number | null {
  const first = frames[0].skyAngleDeg as number
  const stable = frames.every((f) => Math.abs(lineTurn(f.skyAngleDeg as number, first)) <= stableDeg)
  return stable ? ((first % 180) + 180) % 180 : null
}

/** A rotator that moved by as much, in either sense: which way it counts differs from maker to maker. */
function rotatorDid(before: Frame, after: Frame, turn: number): boolean {
  if (before.mechAngleDeg === null || after.mechAngleDeg === null) return false
  const moved = lineTurn(after.mechAngleDeg, before.mechAngleDeg)
  return Math.abs(lineTurn(moved, turn)) <= turnedDeg || Math.abs(lineTurn(-moved, turn)) <= turnedDeg
}
