import type { Frame, Urgency } from '../../contract/index.ts'
import { compareField } from '../../frame/keys.ts'
import { isUsable } from '../../match/raw.ts'
import { sayCount, sayField, sayKinds, sayTemp, sayValue } from '../../match/wording.ts'
import { startMs } from '../cadence.ts'
import type { Off } from '../cooling.ts'
import { isMeasured } from '../levels.ts'
import type { JudgedRun } from '../judged-runs.ts'
import { leastFrames } from '../needs.ts'
import { sayTime } from '../night-clock.ts'
import type { NightView } from '../view.ts'
import { draft, type Rule } from './draft.ts'

/**
 * `warm`: at least 3 frames off the set point by more than the tolerance after the sensor had settled, or the cooler gone off.
 * They are told for the rest of the night, also once it is cold again: their darks are at stake.
 */
export const warm: Rule = (view) =>
  [...view.byRig].flatMap(([rig, all]) => {
    const off = view.cooling.get(rig)?.off ?? []
    if (off.length < leastFrames) return []
    const worst = off.reduce((a, b) => (apart(b) > apart(a) ? b : a))
    const from = sayTime(startMs(off[0].frame), view.state.zone)
    const above = worst.tempC > worst.setC ? 'above' : 'below'
    return [
      draft(view, 'warm', [rig], {
        severity: severityOfWarm(off, all, view),
        text: `Sensor ${apart(worst).toFixed(1)} °C ${above} its set point from ${from}: ${off.length} frames`,
        why: `Set to ${sayTemp(worst.setC)}, measured ${sayTemp(worst.tempC)}. Darks of the set point leave a pattern in them; see to the cooler, or set it to what it can hold.`,
        frames: off.map(({ frame }) => frame),
      }),
    ]
  })

const apart = ({ tempC, setC }: Off) => Math.abs(tempC - setC)

/** Worth waking for while it lasts and lights are at stake: beyond what a near dark forgives. Otherwise it is told, no more. */
function severityOfWarm(off: readonly Off[], frames: readonly Frame[], view: NightView): Urgency {
  const last = off[off.length - 1]
  const lasts = frames.findLast(isUsable) === last.frame && !view.clock.past && !view.clock.afterDawn
  return lasts && last.frame.kind === 'light' && apart(last) > view.state.match.tolerances.nearTempC ? 'actNow' : 'note'
}

const slipFields = ['gain', 'offset', 'readout', 'binning'] as const
type SlipField = (typeof slipFields)[number]

/**
 * `settings-changed`: one of gain, offset, readout and binning alone differs from the run that this one continues (the same
 * target, filter and exposure). A planned change of filter or exposure may bring others with it and is quiet, but for an offset
 * that no dark on the shelf has: nobody plans that.
 */
export const settingsChanged: Rule = (view) => {
  const lights = view.runs.filter(({ run }) => run.kind === 'light' && !run.aside && run.firstAt !== null)
  return lights.flatMap((judged) => {
    const { run, frames } = judged
    if (run.frames < leastFrames) return []
    const before = lights
      .filter((other) => other !== judged && other.run.rig === run.rig && other.run.frames >= leastFrames)
      .filter((other) => Date.parse(other.run.firstAt ?? '') < Date.parse(run.firstAt ?? ''))
    const slip = continuedSlip(judged, before) ?? strayOffset(judged, before, view)
    if (!slip) return []
    const { field, from } = slip
    const at = sayTime(Date.parse(run.firstAt ?? ''), view.state.zone)
    const name = sayField(field)
    return [
      draft(view, 'settings-changed', [run.id, field], {
        severity: severityOfSlip(field, judged, view),
        text: `${name.charAt(0).toUpperCase()}${name.slice(1)} changed from ${sayValue(field, from.run[field])} to ${sayValue(field, run[field])} at ${at}`,
        why: `${sayCount(frames.length, 'light')}${run.target ? ` of ${run.target}` : ''} differ from the run before in this one setting: a slip? They need darks and flats of their own.`,
        frames,
      }),
    ]
  })
}

interface Slip {
  field: SlipField
  from: JudgedRun
}

const differing = (a: JudgedRun, b: JudgedRun) =>
  slipFields.filter((f) => compareField(a.run[f], b.run[f]) === 'differs')

function continuedSlip(judged: JudgedRun, before: readonly JudgedRun[]): Slip | null {
  const { run } = judged
  const same = before.filter(
    (other) =>
      compareField(other.run.target, run.target) === 'equal' &&
      compareField(other.run.filter, run.filter) === 'equal' &&
      compareField(other.run.exposureS, run.exposureS) === 'equal',
  )
  const from = lastBefore(judged, same)
  if (!from) return null
  const fields = differing(from, judged)
  return fields.length === 1 ? { field: fields[0], from } : null
}

function strayOffset(judged: JudgedRun, before: readonly JudgedRun[], view: NightView): Slip | null {
  const from = lastBefore(judged, before)
  if (!from || differing(from, judged).join() !== 'offset') return null
  const planned = view.state.masters.some(
    (m) =>
      m.kind !== 'flat' &&
      compareField(m.camera, judged.run.camera) === 'equal' &&
      compareField(m.offset, judged.run.offset) === 'equal',
  )
  return planned ? null : { field: 'offset', from }
}

/** The run of which a frame came last before this one began. */
function lastBefore(judged: JudgedRun, runs: readonly JudgedRun[]): JudgedRun | null {
  const began = Date.parse(judged.run.firstAt ?? '')
  let best: { run: JudgedRun; ms: number } | null = null
  for (const run of runs) {
    const ms = Math.max(...run.frames.map(startMs).filter((start) => start < began))
    if (Number.isFinite(ms) && (!best || ms > best.ms)) best = { run, ms }
  }
  return best?.run ?? null
}

/** Another binning or readout mode makes frames that won't stack with the rest: worth waking for. Offset and gain cost darks. */
function severityOfSlip(field: SlipField, judged: JudgedRun, view: NightView): Urgency {
  const latest = (view.byRig.get(judged.run.rig) ?? []).filter(isUsable).at(-1)
  const lasts = latest !== undefined && judged.frames.includes(latest) && !view.clock.past && !view.clock.afterDawn
  return lasts && (field === 'binning' || field === 'readout') ? 'actNow' : 'anyTime'
}

/** `bias-unwanted`: bias frames of a sensor whose class has no use for them. */
export const biasUnwanted: Rule = (view) =>
  [...view.byRig].flatMap(([rig, all]) => {
    const bias = all.filter((f) => f.kind === 'bias' && isUsable(f) && !view.rulesOf(f).biasAllowed.value)
    if (!bias.length) return []
    return [
      draft(view, 'bias-unwanted', [rig], {
        severity: 'note',
        text: `${sayCount(bias.length, 'bias')} shot: this sensor has no use for them`,
        why: `${view.rulesOf(bias[0]).biasAllowed.reason} Shoot dark flats with the flats' own exposure instead.`,
        frames: bias,
      }),
    ]
  })

/** A few dead pixels are at zero in any camera; more than one in 100 000 is a black level set too low. */
const zeroFraction = 1e-5

/** `pedestal-low`: darks that touch zero, so that noise below it is cut off. */
export const pedestalLow: Rule = (view) =>
  [...view.byRig].flatMap(([rig, all]) => {
    const low = all
      .filter(isMeasured)
      .filter((f) => (f.kind === 'dark' || f.kind === 'darkFlat' || f.kind === 'bias') && isUsable(f))
      .filter(({ figures: f }) => f.clippedLow > zeroFraction * f.width * f.height)
    if (!low.length) return []
    const { offset } = low[0]
    return [
      draft(view, 'pedestal-low', [rig, offset], {
        severity: 'anyTime',
        text: `${low.length} ${sayKinds('dark', low.length)} touch zero: the offset is too low`,
        why: `${offset === null ? 'The black level' : `Offset ${offset}`} leaves no room below the noise, and what is cut off there can't be averaged back. Raise the offset, for lights and darks alike.`,
        frames: low,
      }),
    ]
  })
