import { Refusal, type Answer, type Frame, type SensorFiguresAnswer } from '../../contract/index.ts'
import { darkKey, keyValue } from '../../frame/keys.ts'
import { currentOf, measuredDoubling, type NoisyLevels } from '../../inspect/dark-signal.ts'
import type { Inspector } from '../../inspect/inspector.ts'
import type { SensorReport } from '../../inspect/sensor-pairs.ts'
import { isUsable } from '../../match/raw.ts'
import { temperatureOf } from '../../match/tolerance.ts'
import { sayExposure, saySettings } from '../../match/wording.ts'
import { FileProblem } from '../../measure/crew.ts'
import { darkLevelsKept, keepDarkLevels } from '../../../db/tables/dark-levels.ts'
import { framesOfKind } from '../../../db/tables/frames.ts'
import { instant } from '../clock.ts'
import type { Core } from '../core.ts'
import { keepSensor, settingKey } from './sensor-memory.ts'

type Measuring = Answer<'measureSensors'>

/** Flats and darks in pairs, as photon transfer wants them. */
interface Pairs {
  sample: Frame
  flats: Frame[]
  darks: Frame[]
}

/** How far it is, and whether somebody wants it to end: between two settings it does, and what was measured stays. */
export interface Course {
  isStopped(): boolean
  tell(done: number, total: number): void
}

/** Measures each sensor setting for which the log holds two flats and two darks of one exposure, and keeps what comes out. */
export async function measureSensors(
  core: Core,
  inspector: Inspector,
  signal: AbortSignal,
  course: Course,
): Promise<Measuring> {
  await learnDarks(core, inspector, signal)
  const outcome: Measuring = { measured: [], lacking: [] }
  const groups = groupBySetting(core)
  for (const [done, group] of groups.entries()) {
    if (course.isStopped()) return { ...outcome, stopped: true }
    course.tell(done, groups.length)
    const { camera } = group.sample
    const pairs = choosePairs(group)
    if ('lacks' in pairs) {
      outcome.lacking.push({ camera: camera!, text: `${saySettings(settingOf(group.sample))}: ${pairs.lacks}` })
      continue
    }
    const ask = { flats: pairs.flats.map((f) => f.path), darks: pairs.darks.map((f) => f.path) }
    try {
      const figures = toFigures(core, pairs, await inspector.sensor(ask, signal))
      keepSensor(core.db, figures)
      outcome.measured.push(figures)
    } catch (error) {
      if (!(error instanceof Refusal || error instanceof FileProblem) || signal.aborted) throw error
      outcome.lacking.push({ camera: camera!, text: `${saySettings(settingOf(group.sample))}: ${error.message}` })
    }
  }
  if (outcome.measured.length) core.changed('library', 'night')
  return outcome
}

const settingOf = ({ gain, offset }: Frame) => ({ gain, offset })

/** Raw flats and covered frames of one camera, gain, offset, readout, size and binning. */
function groupBySetting({ db }: Core): Pairs[] {
  const groups = new Map<string, Pairs>()
  for (const kind of ['flat', 'dark', 'darkFlat'] as const)
    for (const frame of framesOfKind(db, kind)) {
      if (!isUsable(frame) || frame.camera === null || frame.exposureS === null) continue
      const key = `${settingKey(frame)}\u001f${darkKey(frame)}`
      const group = groups.get(key) ?? { sample: frame, flats: [], darks: [] }
      groups.set(key, group)
      group[kind === 'flat' ? 'flats' : 'darks'].push(frame)
    }
  return [...groups.values()].filter((group) => group.flats.length > 0)
}

/** Levels in one curve; each costs four frames. */
const mostLevels = 6

/** Two flats through one filter and two darks of each exposure for which there are, all within half a degree. */
function choosePairs({ sample, flats, darks }: Pairs): Pairs | { lacks: string } {
  const levelsOf = (some: Frame[]) =>
    [...Map.groupBy(some, (f) => f.exposureS!)].flatMap(([exposureS, same]) => {
      const covered = pairOf(darks.filter((d) => Math.abs(d.exposureS! - exposureS) < 1e-6))
      const lit = [...Map.groupBy(same, (f) => keyValue(f.filter)).values()].flatMap((group) => pairOf(group) ?? [])
      return covered && lit.length >= 2 ? [{ exposureS, flats: lit.slice(0, 2), darks: covered }] : []
    })
  const levels = levelsOf(flats.filter((flat) => !isClipped(flat)))
  if (levels.length === 0) {
    const [longest] = flats.map((f) => f.exposureS!).sort((a, b) => b - a)
    return { lacks: `needs two darks of a flat's own exposure, say ${sayExposure(longest)}.` }
  }
  // Brightest first: there the shot noise stands out most. A curve wants levels that differ.
  levels.sort((a, b) => levelOf(b.flats) - levelOf(a.flats))
  const apart = levels.length >= 3 && levelOf(levels[0].flats) > 2 * levelOf(levels[levels.length - 1].flats)
  // One level beyond saturation shows where that is.
  const beyond = levelsOf(flats.filter(isClipped)).sort((a, b) => a.exposureS - b.exposureS)[0]
  const chosen = apart ? [...levels.slice(0, mostLevels), ...(beyond ? [beyond] : [])] : levels.slice(0, 1)
  return { sample, flats: chosen.flatMap((l) => l.flats), darks: chosen.flatMap((l) => l.darks) }
}

/** More at the end of the scale than hot pixels. */
const isClipped = ({ figures: f }: Frame) => f !== null && f.clippedHigh > 0.001 * f.width * f.height

/** Two frames of one temperature, taken one after the other where they can be. */
function pairOf(frames: Frame[]): [Frame, Frame] | null {
  const sorted = frames.toSorted((a, b) => ((a.startedAt ?? '') < (b.startedAt ?? '') ? -1 : 1))
  for (let i = 1; i < sorted.length; i++) {
    const [a, b] = [temperatureOf(sorted[i - 1]), temperatureOf(sorted[i])]
    if (a === null || b === null || Math.abs(a - b) <= 0.5) return [sorted[i - 1], sorted[i]]
  }
  return null
}

const levelOf = (frames: readonly Frame[]) => frames[0].figures?.median ?? 0

function toFigures(
  core: Core,
  { sample, flats, darks }: Pairs,
  report: SensorReport,
): SensorFiguresAnswer & { binning: string | null } {
  const { camera, body, gain, offset, readout, binning } = sample
  const masters = darksLike(core, sample)
  const doublingC = measuredDoubling(masters)
  // Darks of minutes tell a dark current; those of flats are too short for more than an upper bound.
  const ownC = temperatureOf(sample)
  const current = ownC === null ? null : currentOf(masters, ownC, report.gainDnPerE.value)
  const used = doublingC ? masters : (current?.from ?? [])
  return {
    ...{ camera: camera!, body, gain, offset, readout, binning },
    measuredAt: instant(core.clock),
    ePerAdu: report.ePerDn,
    temporalDarkNoiseE: report.temporalDarkNoiseE,
    saturationE: report.saturationE,
    linearityErrorPercent: isSteady(report) ? report.linearityErrorPercent : null,
    darkCurrentEPerS: current?.ePerS ?? report.darkCurrentEPerS,
    darkCurrentAtC: current?.atC ?? (report.darkCurrentEPerS ? ownC : null),
    doublingC,
    sources: [...flats, ...darks, ...used].map(({ path }) => path),
  }
}

/** No sensor is further off a straight line than this, per cent; frames of the log may be, for nobody kept the light as it was. */
const straightWithin = 5
const isSteady = ({ linearityErrorPercent: off }: SensorReport) =>
  off !== null && Math.max(-off.min, off.max) <= straightWithin

/** The dark masters of a frame's camera at its gain, offset and readout, as far as their pixels were looked at. */
function darksLike({ db, shelf }: Core, sample: Frame): (NoisyLevels & { path: string })[] {
  const kept = darkLevelsKept(db)
  const key = darkKey(sample)
  return shelf.masters.flatMap((master) => {
    const levels = kept.get(master.sha256)
    const [{ kind, exposureS, path, figures }, tempC] = [master, temperatureOf(master)]
    const isDark = kind === 'dark' || kind === 'darkFlat'
    if (!levels || !isDark || exposureS === null || tempC === null || darkKey(master) !== key) return []
    return [{ ...levels, exposureS, tempC, path, frameNoiseAdu: figures?.frameNoise ?? null }]
  })
}

/** Masters that could not be read: not tried again before the next start. */
const unreadable = new Set<string>()

/**
 * Looks once at each dark master's pixels for what near matches cost.
 * @returns how many were new
 */
export async function learnDarks(core: Core, inspector: Inspector, signal: AbortSignal): Promise<number> {
  const kept = darkLevelsKept(core.db)
  const fresh = core.shelf.masters.filter(
    ({ kind, state, scale, sha256 }) =>
      (kind === 'dark' || kind === 'darkFlat') &&
      state === 'ready' &&
      scale !== null &&
      !kept.has(sha256) &&
      !unreadable.has(sha256),
  )
  let learnt = 0
  for (const { path, scale, sha256, cfa } of fresh) {
    if (signal.aborted) break
    try {
      const levels = await inspector.signal({ master: { path, unit: scale === 'unit' }, cfa: cfa !== null }, signal)
      keepDarkLevels(core.db, sha256, levels)
      learnt++
    } catch (error) {
      if (signal.aborted) break
      if (!(error instanceof FileProblem || error instanceof Refusal)) throw error
      unreadable.add(sha256)
    }
  }
  if (learnt) core.changed('library', 'night')
  return learnt
}
