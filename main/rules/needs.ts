import type { Frame, Need as NeedKind, Verdict } from '../contract/index.ts'
import { darkKey, flatKey, keyValue } from '../frame/keys.ts'
import type { Judge, MatchContext } from '../match/context.ts'
import { createEpochs, type Epoch, type Epochs } from '../match/epochs.ts'
import { countRawDarks, countRawFlats } from '../match/raw.ts'
import { temperatureOf, turnDeg } from '../match/tolerance.ts'
import { isWorse, type JudgedRun } from './judged-runs.ts'
import { obtain } from '../match/memo.ts'

/** One calibration run that frames of the night ask for, found already or not. */
export interface Need {
  kind: NeedKind
  /** What makes it this need and no other; the same as more frames come in. */
  key: string
  /** A frame that stands for all: its temperature is that of the group. */
  sample: Frame
  /** Verdict of the sample; the worst, where several runs share the need. */
  verdict: Verdict
  /** Frames that wait for it: lights, or flats for a dark flat. None where the verdict is `matched` or `unconfirmed`. */
  frames: Frame[]
  /** Raw frames of it that are there and not built yet. */
  have: number
  /** Of flats (and of the flats that want dark flats). */
  epoch: Epoch | null
}

/** A group of fewer than this needs nothing yet: a trial, or a run that has just begun. */
export const leastFrames = 3

/** A piece of a run whose frames share one need. */
interface Piece {
  kind: NeedKind
  frames: Frame[]
  tempC: number | null
  epoch: Epoch | null
}

/** What of a frame decides whether it asks for anything. */
export interface NeedFacts {
  /** It went into a master that had its dark flat subtracted. */
  isBuilt(frame: Frame): boolean
  /** The sensor was still on its way to the set point. */
  isSettling(frame: Frame): boolean
  /** Its camera has a cooler, on or off. */
  isCooled(frame: Frame): boolean
}

/** Every need of the night, open ones and satisfied ones, in order of the runs. */
export function findNeeds(runs: readonly JudgedRun[], judge: Judge, context: MatchContext, facts: NeedFacts): Need[] {
  const epochs = createEpochs(context.changes)
  const needs = new Map<string, Need>()
  for (const { run, frames } of runs) {
    if (run.aside) continue
    const pieces =
      run.kind === 'light'
        ? [...darkPieces('dark', frames, facts), ...flatPieces(frames, epochs)]
        : run.kind === 'flat'
          ? flatPieces(
              frames.filter((f) => !facts.isBuilt(f)),
              epochs,
            ).flatMap(({ frames: own, epoch }) =>
              darkPieces('darkFlat', own, facts).map((piece) => ({ ...piece, epoch })),
            )
          : []
    for (const piece of pieces) addPiece(needs, piece, judge, context)
  }
  return [...needs.values()]
}

/**
 * Cooled: one group at the median of its settled frames. While the sensor still settles nobody knows which dark they want, so
 * those ask for none. Uncooled: by 2 °C, as far as a near dark reaches.
 */
function darkPieces(kind: NeedKind, frames: readonly Frame[], facts: NeedFacts): Piece[] {
  const groups = new Map<string, Frame[]>()
  for (const frame of frames) {
    if (facts.isSettling(frame)) continue
    const bucket = facts.isCooled(frame) || frame.sensorTempC === null ? '' : `${Math.round(frame.sensorTempC / 2) * 2}`
    obtain(groups, bucket, () => []).push(frame)
  }
  return [...groups.values()].map((own) => ({ kind, frames: own, tempC: middleTemp(own), epoch: null }))
}

function middleTemp(frames: readonly Frame[]): number | null {
  const temps = frames.flatMap((f) => f.sensorTempC ?? []).sort((a, b) => a - b)
  return temps.length ? temps[temps.length >> 1] : null
}

/** A train change in mid-run makes two needs of it. */
function flatPieces(frames: readonly Frame[], epochs: Epochs): Piece[] {
  const byEpoch = new Map<Epoch, Frame[]>()
  for (const frame of frames) {
    const atMs = Date.parse(frame.startedAt ?? `${frame.night}T23:59:59Z`)
    const epoch = epochs.at(frame.rig, frame.filter, atMs)
    obtain(byEpoch, epoch, () => []).push(frame)
  }
  return [...byEpoch.entries()].map(([epoch, own]) => ({ kind: 'flat', frames: own, tempC: null, epoch }))
}

function addPiece(needs: Map<string, Need>, piece: Piece, judge: Judge, context: MatchContext): void {
  const { kind, frames, epoch } = piece
  if (!frames.length) return
  const sample: Frame = { ...frames[0], sensorTempC: piece.tempC ?? frames[0].sensorTempC }
  const verdict = judge(sample)[kind]
  if (!verdict) return
  const key = kind === 'flat' ? flatNeedKey(needs, sample, epoch, context) : darkNeedKey(kind, sample, epoch, context)
  const waits = verdict.verdict !== 'matched' && verdict.verdict !== 'unconfirmed'
  const need = needs.get(key)
  if (need) {
    if (isWorse(verdict, need.verdict)) Object.assign(need, { verdict, sample })
    if (waits) need.frames.push(...frames)
    return
  }
  const have =
    kind === 'flat'
      ? countRawFlats(sample, epoch as Epoch, context)
      : countRawDarks(sample, temperatureOf(sample), context)
  needs.set(key, { kind, key, sample, verdict, frames: waits ? [...frames] : [], have, epoch })
}

function darkNeedKey(kind: NeedKind, s: Frame, epoch: Epoch | null, { twins = [] }: MatchContext): string {
  const temp = s.setTempC ?? (s.sensorTempC === null ? null : Math.round(s.sensorTempC / 2) * 2)
  // Two bodies of one model without serial numbers are told apart by their rigs alone.
  const rig = kind === 'darkFlat' || twins.includes(s.camera ?? '') ? s.rig : ''
  return [kind, darkKey(s), s.exposureS?.toFixed(2), temp, rig, kind === 'darkFlat' ? epoch?.id : ''].join('|')
}

/** Angles are compared by tolerance, so the key takes the angle of the first need within it. */
function flatNeedKey(needs: ReadonlyMap<string, Need>, s: Frame, epoch: Epoch | null, context: MatchContext): string {
  const sameGain = context.sensorRules(s.camera).flatNeedsSameGain.value
  const level = sameGain ? `${keyValue(s.gain)}/${keyValue(s.offset)}` : ''
  const base = ['flat', flatKey(s), s.rig, level, epoch?.id].join('|')
  if (s.mechAngleDeg === null) return base
  for (const need of needs.values()) {
    const angle = need.sample.mechAngleDeg
    if (angle === null || !need.key.startsWith(`${base}|`)) continue
    if (turnDeg(angle, s.mechAngleDeg) <= context.tolerances.angleDeg) return need.key
  }
  return `${base}|${s.mechAngleDeg.toFixed(1)}`
}
