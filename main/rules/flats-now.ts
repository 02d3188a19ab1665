import type { FlatNow, FlatPoint } from '../contract/index.ts'
import { sayCount, sayExposure, sayTemp } from '../match/wording.ts'
import { balanceOf, driftOf, isClipped, levelOf, tooNoisy, type RunLevel } from './flat-run.ts'
import type { JudgedRun } from './judged-runs.ts'
import { isMeasured } from './levels.ts'
import type { NightView } from './view.ts'

/** The flats of a night as they are being shot: what each run is at, and what to do about it, before anybody leaves the panel. */
export const flatsNow = (view: NightView): (Omit<FlatNow, 'suggestedSource'> & { rig: string | null })[] =>
  view.runs.filter(({ run }) => run.kind === 'flat' && !run.aside).map((judged) => flatNow(judged, view))

function flatNow(judged: JudgedRun, view: NightView) {
  const { run } = judged
  const level = levelOf(judged, view)
  const about = { run: run.id, rig: run.rig, lightSource: run.lightSource ?? null }
  if (!level) return { ...about, frames: 0, before: 0, level: null, channels: [], points: floorPoint(judged, view) }
  const { now, limits, pedestalAdu, fullAdu, aimAdu, isRight, latest, channels } = level
  const fraction = (adu: number, of: number) => (adu - pedestalAdu) / (of - pedestalAdu)
  return {
    ...about,
    frames: latest.length,
    before: judged.frames.filter(isMeasured).length - latest.length,
    level: {
      adu: now.medianAdu,
      aimAdu,
      targetAdu: limits.targetAdu,
      fullAdu,
      pedestalAdu,
      ratio: fraction(now.medianAdu, aimAdu),
      right: isRight,
    },
    channels: (['R', 'G', 'B'] as const).flatMap((channel) =>
      channels ? [{ channel, adu: channels[channel], ofTarget: fraction(channels[channel], limits.targetAdu) }] : [],
    ),
    points: [
      ...levelPoints(level),
      ...floorPoint(judged, view),
      ...clippingPoint(judged, level),
      ...balancePoint(judged, level, view),
      ...driftPoint(judged, level, view),
      ...coolerPoint(judged, level, view),
    ],
  }
}

const sayAdu = (level: number) => `${Math.round(level).toLocaleString('en-GB').replaceAll(',', ' ')} ADU`
/** A clause as a sentence of its own. */
const sentence = (clause: string) => `${clause.charAt(0).toUpperCase()}${clause.slice(1).replace(/[.?]$/, '')}${clause.endsWith('?') ? '?' : '.'}` // prettier-ignore
const point = (what: FlatPoint['what'], text: string, todo: string | null): FlatPoint => ({
  what,
  right: todo === null,
  text,
  todo: todo && sentence(todo),
})

function levelPoints(level: RunLevel): FlatPoint[] {
  const { now, limits, aimAdu, model, pedestalAdu, rules, isRight, advise } = level
  const less = aimAdu < limits.targetAdu - 1 ? ', for the brightest channel must stay in the linear range' : ''
  const fit = model.fitted ? `, reckoned from ${sayCount(model.fitted, 'flat')} at several exposures` : ''
  const text = `Level ${sayAdu(now.medianAdu)}; aim for ${sayAdu(aimAdu)}${less}${fit}.`
  const points = [point('level', text, isRight ? null : advise(aimAdu))]
  const top = sayAdu(limits.linearTopAdu)
  // Where the aim itself is held down by the brightest channel, only another balance gives more light to the rest.
  const colour = isRight || less ? 'balance the colour of the light' : 'at the level to aim for it is within that'
  if (now.brightestAdu > limits.linearTopAdu)
    points.push(
      point(
        'brightest',
        `The brightest channel is at ${sayAdu(now.brightestAdu)}; the response is straight up to ${top}.`,
        `${isRight ? `${advise(aimAdu)}; or ` : ''}${colour}`,
      ),
    )
  const noisy = tooNoisy(level)
  if (noisy) {
    const room = noisy.enoughAdu <= pedestalAdu + (limits.linearTopAdu - pedestalAdu) / model.brightestShare
    const todo = room ? `at the least, ${advise(noisy.enoughAdu)}` : 'balance the colour of the light'
    points.push(point('noise', `The dimmest channel has a signal-to-noise below ${rules.leastSnr.value}.`, todo))
  }
  return points
}

/** Quiet where the class has no floor, or the exposure is not known. */
function floorPoint({ run }: JudgedRun, view: NightView): FlatPoint[] {
  const floorS = view.rulesOf(run).floorS.value
  if (!(floorS > 0) || run.exposureS === null) return []
  const text = `${sayExposure(run.exposureS)}; the floor of this sensor is ${sayExposure(floorS)}.`
  const isShort = run.exposureS < floorS - 1e-6
  return [point('floor', text, isShort ? `dim the light and expose ${sayExposure(floorS)} or longer` : null)]
}

function clippingPoint({ frames }: JudgedRun, { latest }: RunLevel): FlatPoint[] {
  const clipped = latest.filter(isClipped).length
  const earlier = frames.filter(isMeasured).filter(isClipped).length - clipped
  if (clipped > 0)
    return [
      point(
        'clipping',
        `${sayCount(clipped, 'flat')} of ${latest.length} clipped.`,
        'dim the light and shoot them again',
      ),
    ]
  if (earlier > 0)
    return [
      point(
        'clipping',
        `The latest are not clipped; ${sayCount(earlier, 'flat')} before the light was turned down ${earlier === 1 ? 'is' : 'are'}.`,
        'shoot as many again: those cannot correct anything',
      ),
    ]
  return [point('clipping', 'Nothing is clipped.', null)]
}

function balancePoint(judged: JudgedRun, { channels, pedestalAdu }: RunLevel, view: NightView): FlatPoint[] {
  const balance = balanceOf(channels, pedestalAdu, judged, view)
  if (!balance) return []
  const said = balance.map(({ name, share }) => `${name} ${share.toFixed(2)}`).join(', ')
  const usual = balance.every((one) => one.usual !== null)
    ? `; usual through this filter: ${balance.map(({ name, usual }) => `${name} ${usual!.toFixed(2)}`).join(', ')}`
    : '; the first flats of this filter have nothing to be held against'
  const off = balance.some(({ isOff }) => isOff)
  const todo = off ? 'look whether it is the right filter and the usual light, or balance its colour' : null
  return [point('balance', `Balance against green: ${said}${usual}.`, todo)]
}

function driftPoint(judged: JudgedRun, { latest, pedestalAdu }: RunLevel, view: NightView): FlatPoint[] {
  const drift = driftOf(latest, pedestalAdu, judged, view, 2)
  if (!drift) return []
  const text = `The level wanders by ${(100 * drift.wander).toFixed(1)} % over the latest ${sayCount(latest.length, 'flat')}.`
  return [
    point('drift', text, drift.isFault ? 'let the panel warm up, or look for stray light, and shoot them again' : null),
  ]
}

/** Where a camera has a cooler: whether the latest flats were taken as cold as it was set. */
function coolerPoint({ run }: JudgedRun, { latest }: RunLevel, view: NightView): FlatPoint[] {
  const last = latest[latest.length - 1]
  const cooling = view.cooling.get(run.rig)
  if (!cooling?.cooled || last.sensorTempC === null) return []
  const tolerance = view.state.match.tolerances.tempC
  if (last.setTempC === null)
    return [point('cooler', `Sensor at ${sayTemp(last.sensorTempC)}; the cooler is off.`, 'switch the cooler on')]
  const text = `Sensor at ${sayTemp(last.sensorTempC)}, set to ${sayTemp(last.setTempC)}.`
  const isOff = Math.abs(last.sensorTempC - last.setTempC) > tolerance + 1e-9
  const todo = cooling.settling.has(last.id)
    ? 'wait until it has settled'
    : 'see to the cooler, or set it to what it can hold'
  return [point('cooler', text, isOff ? todo : null)]
}
