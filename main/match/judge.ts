import type { Difference, Master, Verdict, Verdicts } from '../contract/index.ts'
import type { Judge, Judged, MatchContext } from './context.ts'
import { createDarkShelf, type DarkNeed } from './darks.ts'
import { createEpochs, type Epoch } from './epochs.ts'
import type { Finding } from './finding.ts'
import { createFlatShelf, temperatureNote } from './flats.ts'
import { countRawDarks, countRawFlats, isUsable } from './raw.ts'
import { temperatureOf } from './tolerance.ts'
import { sayFinding, sayNone } from './verdict-text.ts'

/**
 * A frame this far (°C) from the median of its run is no flicker of the thermometer: cooling down, or a cooler that gave up.
 * It is judged by its own temperature, so that one good hour does not cover a bad one.
 */
const flickerC = 1

/**
 * Makes the judge for a library: masters are indexed once, verdicts remembered by the settings that decide them.
 * Verdicts are shared between frames: treat them as read-only.
 */
export function createJudge(masters: readonly Master[], context: MatchContext): Judge {
  const epochs = createEpochs(context.changes)
  const findDark = createDarkShelf(masters, context)
  const findFlat = createFlatShelf(masters, context, epochs)
  const gone = new Set((context.gone ?? []).map((name) => name.trim().toUpperCase()))
  const isGone = (frame: Judged) =>
    gone.size > 0 && [frame.body, frame.camera].some((name) => name !== null && gone.has(name.trim().toUpperCase()))

  const judgeDark = remember(
    (frame: Judged, need: DarkNeed, tempC: number | null) => darkKeyOf(frame, need, tempC),
    (frame, need, tempC): Verdict => {
      const finding = findDark(frame, need, tempC)
      const wants = need === 'dark' ? 'light' : 'flat'
      if (finding.word) return toVerdict(finding, sayFinding(finding, wants, { tempC, now: context.now }))
      const word = isGone(frame) ? 'missing' : 'due'
      const waiting = countRawDarks(frame, tempC, context)
      return none(word, finding, sayNone(word, need, wants, finding, { waiting, context, epoch: null }))
    },
  )

  const judgeFlat = remember(
    (frame: Judged, epoch: Epoch) => flatKeyOf(frame, epoch),
    (frame, epoch): { finding: Finding; verdict: Verdict } => {
      const finding = findFlat(frame, epoch, middleOf(frame.night))
      if (finding.word)
        return { finding, verdict: toVerdict(finding, sayFinding(finding, 'light', { now: context.now })) }
      const waiting = countRawFlats(frame, epoch, context)
      // Flats of a closed epoch that only wait to be built are not lost.
      const word = waiting > 0 ? 'due' : epoch.endedBy ? 'lost' : isGone(frame) ? 'missing' : 'due'
      return {
        finding,
        verdict: none(word, finding, sayNone(word, 'flat', 'light', finding, { waiting, context, epoch })),
      }
    },
  )
  // A flat's temperature decides nothing, so it stays out of the memo above: it is noted afterwards, where it is far off.
  const noteTemperature = remember(
    (_frame: Judged, finding: Finding, tempC: number) => `${finding.master?.id}${gap}${tempC}`,
    (frame, finding, tempC): Difference[] =>
      temperatureNote({ ...frame, ...ownTemp(frame, tempC) }, finding.master, context),
  )
  const judgeFlatAt = (frame: Judged, epoch: Epoch): Verdict => {
    const { finding, verdict } = judgeFlat(frame, epoch)
    const tempC = roundTemp(temperatureOf(frame))
    if (finding.word !== 'matched' || tempC === null) return verdict
    const noted = noteTemperature(frame, finding, tempC)
    if (!noted.length) return verdict
    const whole = { ...finding, differences: [...finding.differences, ...noted] }
    return toVerdict(whole, sayFinding(whole, 'light', { now: context.now }))
  }

  return (frame, groupTempC = null): Verdicts => {
    if (!isUsable(frame)) return {}
    if (frame.kind === 'flat') return { darkFlat: judgeDark(frame, 'darkFlat', tempOf(frame, groupTempC)) }
    if (frame.kind !== 'light') return {}
    const atMs = Date.parse(frame.startedAt ?? '')
    const epoch = epochs.at(frame.rig, frame.filter, Number.isNaN(atMs) ? middleOf(frame.night) : atMs)
    return { dark: judgeDark(frame, 'dark', tempOf(frame, groupTempC)), flat: judgeFlatAt(frame, epoch) }
  }
}

/** The temperature that stands for a frame: its run's median, unless its own is measured and further off than a flicker. */
function tempOf(frame: Judged, groupTempC: number | null): number | null {
  const own = frame.sensorTempC
  if (groupTempC === null) return roundTemp(temperatureOf(frame))
  return roundTemp(own !== null && Math.abs(own - groupTempC) > flickerC ? own : groupTempC)
}

/** To 0.01 °C: a thermometer's last digits would fill the memo with equal verdicts. */
const roundTemp = (tempC: number | null) => (tempC === null ? null : Math.round(tempC * 100) / 100 + 0)

const ownTemp = (frame: Judged, tempC: number) =>
  frame.sensorTempC === null ? { setTempC: tempC } : { sensorTempC: tempC }

/** Midnight of a night to the hour of the zone, ms: what "nearest in time" is counted from. */
const middleOf = (night: string) => Date.parse(`${night}T00:00:00Z`) + 24 * 3_600_000

const toVerdict = (finding: Finding, text: string): Verdict => {
  const id = finding.master?.id ?? null
  return {
    verdict: finding.word ?? 'due',
    master: finding.word === 'matched' ? id : null,
    nearest: finding.word === 'matched' ? null : id,
    differences: finding.differences,
    text,
  }
}

const none = (verdict: Verdict['verdict'], finding: Finding, text: string): Verdict => ({
  ...toVerdict(finding, text),
  verdict,
})

function remember<A extends unknown[], R>(keyOf: (...args: A) => string, answer: (...args: A) => R) {
  const memo = new Map<string, R>()
  return (...args: A): R => {
    const key = keyOf(...args)
    let known = memo.get(key)
    if (known === undefined) memo.set(key, (known = answer(...args)))
    return known
  }
}

/** Between fields of a key, and in place of one that is unknown; no header value holds either. */
const gap = '\u001f'
const absent = '\u0000'

// Keys of the memo are the raw values, not the canonical ones of frame/keys.ts: bringing a number into canonical form costs
// more than the rest of a verdict, and two spellings of one value merely fill two places.
const bodyKeyOf = (f: Judged) =>
  `${f.camera ?? absent}${gap}${f.body ?? absent}${gap}${f.rig ?? absent}${gap}${f.width}x${f.height}${gap}${f.originX},${f.originY}` +
  `${gap}${f.binning ?? absent}${gap}${f.readout ?? absent}${gap}${f.gain ?? absent}${gap}${f.offset ?? absent}${gap}${f.cfa}${gap}${f.rowOrder}`

function darkKeyOf(f: Judged, need: DarkNeed, tempC: number | null): string {
  return `${need}${gap}${bodyKeyOf(f)}${gap}${f.exposureS}${gap}${tempC}${gap}${f.sensorTempC === null}`
}

function flatKeyOf(f: Judged, epoch: Epoch): string {
  return (
    `${bodyKeyOf(f)}${gap}${f.filter ?? absent}${gap}${f.train ?? absent}${gap}${f.telescope ?? absent}${gap}${f.focalMm}` +
    `${gap}${f.mechAngleDeg}${gap}${epoch.id}${gap}${f.night}`
  )
}
