import type { Master, Verdict, Verdicts } from '../contract/index.ts'
import type { Judge, Judged, MatchContext } from './context.ts'
import { createDarkShelf, type DarkNeed } from './darks.ts'
import { createEpochs, type Epoch } from './epochs.ts'
import type { Finding } from './finding.ts'
import { createFlatShelf, temperatureNote } from './flats.ts'
import { countRawDarks, countRawFlats, isUsable } from './raw.ts'
import { bodyNumbering, obtain, trainNumbering } from './memo.ts'
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

  const judgeDark = (frame: Judged, need: DarkNeed, tempC: number | null): Verdict => {
    const finding = findDark(frame, need, tempC)
    const wants = need === 'dark' ? 'light' : 'flat'
    if (finding.word) return toVerdict(finding, sayFinding(finding, wants, { tempC, now: context.now }))
    const word = isGone(frame) ? 'missing' : 'due'
    const waiting = countRawDarks(frame, tempC, context)
    return none(word, finding, sayNone(word, need, wants, finding, { waiting, context, epoch: null }))
  }

  const judgeFlat = (frame: Judged, epoch: Epoch): FlatAnswer => {
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
  }

  /** A flat's temperature decides nothing, so it stays out of the memo: it is noted afterwards, where it is far off. */
  const withTemperature = (frame: Judged, { finding, verdict }: FlatAnswer): Verdict => {
    if (finding.word !== 'matched') return verdict
    const noted = temperatureNote(frame, finding.master, context)
    if (!noted.length) return verdict
    const whole = { ...finding, differences: [...finding.differences, ...noted] }
    return toVerdict(whole, sayFinding(whole, 'light', { now: context.now }))
  }

  const darks = { dark: darkMemo(), darkFlat: darkMemo() }
  const bodyOf = bodyNumbering()
  const rememberDark = (frame: Judged, need: DarkNeed, groupTempC: number | null): Verdict => {
    const tempC = tempOf(frame, groupTempC)
    const byExposure = obtain(darks[need], bodyOf(frame), () => new Map())
    const byTemp = obtain(byExposure, frame.exposureS, () => new Map<number | null, Verdict>())
    return obtain(byTemp, tempC, () => judgeDark(frame, need, tempC))
  }

  const flats = new Map<number, Map<Epoch, FlatAnswer>>()
  const trainOf = trainNumbering(bodyOf)
  const rememberFlat = (frame: Judged): Verdict => {
    const epoch = epochs.of(frame.rig, frame.filter, () => timeOf(frame))
    const byEpoch = obtain(flats, trainOf(frame), () => new Map<Epoch, FlatAnswer>())
    return withTemperature(
      frame,
      obtain(byEpoch, epoch, () => judgeFlat(frame, epoch)),
    )
  }

  return (frame, groupTempC = null): Verdicts => {
    if (!isUsable(frame)) return {}
    if (frame.kind === 'flat') return { darkFlat: rememberDark(frame, 'darkFlat', groupTempC) }
    if (frame.kind !== 'light') return {}
    return { dark: rememberDark(frame, 'dark', groupTempC), flat: rememberFlat(frame) }
  }
}

interface FlatAnswer {
  finding: Finding
  verdict: Verdict
}

/** By body, exposure and temperature. */
const darkMemo = () => new Map<number, Map<number | null, Map<number | null, Verdict>>>()

function timeOf(frame: Judged): number {
  const atMs = Date.parse(frame.startedAt ?? '')
  return Number.isNaN(atMs) ? middleOf(frame.night) : atMs
}

/** The temperature that stands for a frame: its run's median, unless its own is measured and further off than a flicker. */
function tempOf(frame: Judged, groupTempC: number | null): number | null {
  const own = frame.sensorTempC
  if (groupTempC === null) return roundTemp(temperatureOf(frame))
  return roundTemp(own !== null && Math.abs(own - groupTempC) > flickerC ? own : groupTempC)
}

/** To 0.01 °C: a thermometer's last digits would fill the memo with equal verdicts. */
const roundTemp = (tempC: number | null) => (tempC === null ? null : Math.round(tempC * 100) / 100 + 0)

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
