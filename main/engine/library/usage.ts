import { setImmediate as breathe } from 'node:timers/promises'
import { VERDICTS, type Answer, type CoverageNeed, type Need, type Verdict } from '../../contract/index.ts'
import type { Judge } from '../../match/context.ts'
import { createJudge } from '../../match/judge.ts'
import { leastFrames } from '../../rules/needs.ts'
import { askingFrames, nightSizes, type AskingFrame } from '../../../db/tables/asking-frames.ts'
import { frameById } from '../../../db/tables/frames.ts'
import { medianOf } from '../builds/belongs.ts'
import { instant } from '../clock.ts'
import type { Core } from '../core.ts'
import { matchContextOf } from '../settings.ts'

/** Frames that are looked at before a frame that landed meanwhile has its turn (about 10 ms). */
const FRAMES_AT_ONCE = 8_000
/** An answer serves this many times as long as it took to make: a log of a million frames is not read for every light that lands. */
const SERVES_TIMES = 20

/** Frames of one night that ask the same of one kind of master. */
interface Asked {
  need: Need
  night: string
  verdict: Verdict
  frames: number
  totalS: number
  /** One of them, for its settings. */
  sample: number
  tempC: number | null
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
    const groupOf = groupBetween(context.changes.map(({ at }) => at))
    const asked: Asked[] = []
    let tookMs = 0
    const sizes = nightSizes(db)
    for (let from = 0; from < sizes.length && !closing.aborted;) {
      const startMs = performance.now()
      let to = from
      for (let frames = 0; to < sizes.length && frames < FRAMES_AT_ONCE; to++) frames += sizes[to].frames
      const groups = Map.groupBy(askingFrames(db, sizes[to - 1].night, sizes[from].night), groupOf)
      for (const frames of groups.values()) asked.push(...askedBy(this.#core, judgeOf(), frames))
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
      const frame = frameById(this.#core.db, one.sample)
      if (!frame) continue
      const { camera, body, width, height, binning, readout, gain, offset, setTempC, exposureS } = frame
      const settings = { camera, body, width, height, binning, readout, gain, offset, setTempC, exposureS }
      const tempC = one.tempC ?? frame.sensorTempC
      const shown = setTempC ?? (tempC === null ? null : Math.round(tempC))
      const key = JSON.stringify([one.need, { ...settings, setTempC: shown }])
      const before = merged.get(key)
      merged.set(key, mergeNeed(before, one, { ...settings, sensorTempC: tempC }, current))
    }
    return [...merged.values()].sort(
      (a, b) =>
        b.lastNight.localeCompare(a.lastNight) ||
        a.kind.localeCompare(b.kind) ||
        (b.settings.exposureS ?? 0) - (a.settings.exposureS ?? 0),
    )
  }
}

/** Frames of a night stay apart where a train change lies between them: their flats may be others. */
const groupBetween =
  (changes: readonly string[]) =>
  (frame: AskingFrame): string => {
    const since = frame.startedAt === null ? 0 : changes.filter((at) => at <= frame.startedAt!).length
    const { night, kind, darkKey, flatKey, exposureS, setTempC, target, filter, rig, mechAngleDeg } = frame
    const angle = mechAngleDeg === null ? '' : mechAngleDeg.toFixed(1)
    return [night, kind, darkKey, flatKey, exposureS, setTempC, target, filter, rig, angle, since].join('\u001f')
  }

function askedBy(core: Core, judge: Judge, group: AskingFrame[]): Asked[] {
  const frame = frameById(core.db, group[0].id)
  if (!frame) return []
  const tempC = medianOf(group.flatMap(({ sensorTempC }) => sensorTempC ?? []))
  // The sample must not be the one frame that was warm: it would be judged by its own temperature.
  const verdicts = judge({ ...frame, sensorTempC: tempC ?? frame.sensorTempC }, tempC)
  const totalS = group.reduce((sum, { exposureS }) => sum + (exposureS ?? 0), 0)
  const { night } = frame
  return (Object.entries(verdicts) as [Need, Verdict][]).map(([need, verdict]) => ({
    need,
    night,
    verdict,
    frames: group.length,
    totalS,
    sample: frame.id,
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
