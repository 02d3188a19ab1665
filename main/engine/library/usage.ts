import { setImmediate as breathe } from 'node:timers/promises'
import { VERDICTS, type Answer, type CoverageNeed, type Frame, type Need, type Verdict } from '../../contract/index.ts'
import type { Judge } from '../../match/context.ts'
import { createJudge } from '../../match/judge.ts'
import { leastFrames } from '../../rules/needs.ts'
import { askingFrames, nightSizes, type AskingFrames } from '../../../db/tables/asking-frames.ts'
import { frameById } from '../../../db/tables/frames.ts'
import { instant } from '../clock.ts'
import type { Core } from '../core.ts'
import { matchContextOf } from '../settings.ts'

/** Frames that are looked at before a frame that landed meanwhile has its turn (about 10 ms). */
const FRAMES_AT_ONCE = 8_000
const DAY_MS = 86_400_000
/** An answer serves this many times as long as it took to make: a log of a million frames is not read for every light that lands. */
const SERVES_TIMES = 20

/** Frames of one night that ask the same of one kind of master. */
interface Asked {
  need: Need
  night: string
  verdict: Verdict
  frames: number
  totalS: number
  sample: Sample
  tempC: number | null
}

/** A frame that stands for all of the same settings, whatever their night. */
interface Sample {
  frame: Frame
  /** What a need is told by, and the same as a text. */
  settings: Omit<CoverageNeed['settings'], 'sensorTempC'>
  key: string
}

interface Usage {
  asked: Asked[]
  nights: number
  madeMs: number
  tookMs: number
  version: string
}

/** What the frames of all nights ask of the library, and which masters answer: judged as the nights themselves judge. A cache. */
export class UsageBook {
  readonly #core: Core
  #known: Usage | null = null
  #making: Promise<Usage> | null = null

  constructor(core: Core) {
    this.#core = core
  }

  async coverage(): Promise<Answer<'coverage'>> {
    const { asked, nights } = await this.#usage()
    const ids = (words: readonly Verdict['verdict'][], of: 'master' | 'nearest') =>
      [...new Set(asked.flatMap(({ verdict }) => (words.includes(verdict.verdict) ? (verdict[of] ?? []) : [])))].sort(
        (a, b) => a - b,
      )
    return {
      needs: this.#needs(asked),
      used: ids(['matched'], 'master'),
      near: ids(['near'], 'nearest'),
      nights,
    }
  }

  async nightsOf(master: number): Promise<Answer<'masterNights'>> {
    const { asked } = await this.#usage()
    const nights = new Map<string, { night: string; frames: number; totalS: number }>()
    for (const { night, verdict, frames, totalS } of asked) {
      if (verdict.verdict !== 'matched' || verdict.master !== master) continue
      const sum = nights.get(night) ?? { night, frames: 0, totalS: 0 }
      nights.set(night, { night, frames: sum.frames + frames, totalS: sum.totalS + totalS })
    }
    return { nights: [...nights.values()].sort((a, b) => b.night.localeCompare(a.night)) }
  }

  #usage(): Promise<Usage> {
    const known = this.#known
    const isFresh = known && performance.now() - known.madeMs < known.tookMs * SERVES_TIMES
    if (isFresh && known.version === this.#core.shelf.version) return Promise.resolve(known)
    return (this.#making ??= this.#make().finally(() => (this.#making = null)))
  }

  async #make(): Promise<Usage> {
    const { db, clock, shelf, closing } = this.#core
    const version = shelf.version
    const context = matchContextOf(db, instant(clock))
    let judge: Judge | null = null
    const judgeOf = () => (judge ??= createJudge(shelf.masters, context))
    const sampleOf = samplesOf(this.#core)
    const changes = context.changes.map(({ at }) => at)
    const asked: Asked[] = []
    let tookMs = 0
    const sizes = nightSizes(db)
    for (let from = 0; from < sizes.length && !closing.aborted;) {
      const startMs = performance.now()
      let to = from
      for (let frames = 0; to < sizes.length && frames < FRAMES_AT_ONCE; to++) frames += sizes[to].frames
      const [first, last] = [sizes[to - 1].night, sizes[from].night]
      for (const group of askingFrames(db, first, last, changes.filter(isBetween(first, last))))
        asked.push(...askedBy(judgeOf(), group, sampleOf))
      from = to
      tookMs += performance.now() - startMs
      await breathe()
    }
    this.#known = { asked, nights: sizes.length, version, tookMs, madeMs: performance.now() }
    return this.#known
  }

  #needs(asked: readonly Asked[]): CoverageNeed[] {
    const current = this.#core.nights.usual()
    const merged = new Map<string, CoverageNeed>()
    for (const one of asked) {
      if (one.need === 'flat' || (one.verdict.verdict !== 'matched' && one.frames < leastFrames)) continue
      const { frame, settings, key: settingsKey } = one.sample
      const tempC = one.tempC ?? frame.sensorTempC
      const shown = settings.setTempC ?? (tempC === null ? null : Math.round(tempC))
      const key = `${one.need}${shown}${settingsKey}`
      merged.set(key, mergeNeed(merged.get(key), one, { ...settings, sensorTempC: tempC }, current))
    }
    return [...merged.values()].sort(
      (a, b) =>
        b.lastNight.localeCompare(a.lastNight) ||
        a.kind.localeCompare(b.kind) ||
        (b.settings.exposureS ?? 0) - (a.settings.exposureS ?? 0),
    )
  }
}

/** Whether a moment may lie in one of these nights, wherever on Earth: a night is told by local time. */
const isBetween = (first: string, last: string) => {
  const [fromMs, toMs] = [Date.parse(first) - DAY_MS, Date.parse(last) + 3 * DAY_MS]
  return (at: string) => Date.parse(at) >= fromMs && Date.parse(at) < toMs
}

/** Frames are read once for all nights in which they ask the same with the same settings. */
function samplesOf({ db }: Core): (group: AskingFrames) => Sample | null {
  const samples = new Map<string, Sample | null>()
  return (group) => {
    const { kind, darkKey, flatKey, exposureS, setTempC, filter, rig } = group
    const { telescope, focalMm, mechAngleDeg, train, cfa, rowOrder } = group
    const optics = [filter, rig, telescope, focalMm, mechAngleDeg, train, cfa, rowOrder]
    const name = [kind, darkKey, flatKey, exposureS, setTempC, group.tempC === null, ...optics].join('\u001f')
    let sample = samples.get(name)
    if (sample === undefined) samples.set(name, (sample = toSample(frameById(db, group.id))))
    return sample
  }
}

function toSample(frame: Frame | undefined): Sample | null {
  if (!frame) return null
  const { camera, body, width, height, binning, readout, gain, offset, setTempC, exposureS } = frame
  const settings = { camera, body, width, height, binning, readout, gain, offset, setTempC, exposureS }
  return { frame, settings, key: JSON.stringify({ ...settings, setTempC: null }) }
}

function askedBy(judge: Judge, group: AskingFrames, sampleOf: (group: AskingFrames) => Sample | null): Asked[] {
  const sample = sampleOf(group)
  if (!sample) return []
  const { night, startedAt, tempC, frames, totalS } = group
  // The sample must not be the one frame that was warm: it would be judged by its own temperature.
  const sensorTempC = tempC ?? sample.frame.sensorTempC
  const verdicts = judge({ ...sample.frame, night, startedAt, sensorTempC }, tempC)
  return (Object.entries(verdicts) as [Need, Verdict][]).map(([need, verdict]) => ({
    need,
    night,
    verdict,
    frames,
    totalS,
    sample,
    tempC,
  }))
}

function mergeNeed(
  before: CoverageNeed | undefined,
  { need, night, verdict: { verdict, nearest, text }, frames, totalS }: Asked,
  settings: CoverageNeed['settings'],
  current: string,
): CoverageNeed {
  const isWorse = !before || VERDICTS.indexOf(verdict) > VERDICTS.indexOf(before.verdict)
  return {
    kind: need === 'darkFlat' ? 'darkFlat' : 'dark',
    verdict: isWorse ? verdict : before.verdict,
    counts: { ...before?.counts, [verdict]: (before?.counts[verdict] ?? 0) + frames },
    settings: isWorse ? settings : before.settings,
    nearest: isWorse ? nearest : before.nearest,
    text: isWorse ? text : before.text,
    frames: (before?.frames ?? 0) + frames,
    totalS: (before?.totalS ?? 0) + totalS,
    firstNight: before && before.firstNight < night ? before.firstNight : night,
    lastNight: before && before.lastNight > night ? before.lastNight : night,
    tonight: (before?.tonight ?? false) || night === current,
  }
}
