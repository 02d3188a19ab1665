import type { Answer, Run } from '../../../main/contract/index.ts'
import { exposure, measuredTemp, nightName, number, withUnit } from '../../parts/format.ts'
import { settingTitle } from './figures.ts'

type Floor = Answer<'findFloor'>

/** Flats of one setting and one night by their exposures: what a sensor's own floor can be found from. */
export interface FloorSeries {
  id: string
  night: string
  camera: string
  label: string
  /** Settings in words, for the reason of a rule. */
  settings: string
  frames: number[]
}

/** Of one exposure more tell nothing new. */
const MOST_OF_EACH = 8
/** So many of one exposure in a row are flats for a master, shot at whatever brightness suited them. */
const FOR_A_MASTER = 12
/** A longer pause than this beside the exposure itself: something else was done. */
const PAUSE_MS = 20_000
const alike = ['camera', 'body', 'gain', 'offset', 'readout', 'binning', 'width', 'height', 'filter', 'night'] as const
const tempOf = (run: Run) => run.sensorTempC ?? run.setTempC

/** The series among runs of flats: three exposures of two frames each, or any exposure at two temperatures; newest first. */
export function floorSeries(runs: readonly Run[]): FloorSeries[] {
  const flats = runs.filter(({ kind, camera, exposureS }) => kind === 'flat' && camera && exposureS)
  const groups = Map.groupBy(flats, (run) => JSON.stringify(alike.map((field) => run[field])))
  return [...groups]
    .filter(([, group]) => tellsFloor(group))
    .toSorted(([, [a]], [, [b]]) => b!.night.localeCompare(a!.night))
    .map(([id, group]) => {
      const [{ camera, night, filter }] = group as [Run]
      const seconds = [...new Set(group.map((run) => run.exposureS!))].toSorted((a, b) => a - b)
      const settings = [camera, settingTitle(group[0]!), filter].filter(Boolean).join(', ')
      return {
        id,
        night,
        camera: camera!,
        settings,
        label: `${nightName(night)}: ${seconds.map(exposure).join(', ')}; ${settings}`,
        frames: seriesFrames(group),
      }
    })
}

interface Shot {
  id: number
  of: string
  exposureMs: number
  atMs: number
}

/**
 * The frames of a series, a few of each exposure and temperature: where an exposure was also shot for a master in the same night,
 * those in a row of many are left out, for the light was another.
 */
function seriesFrames(group: readonly Run[]): number[] {
  const shots = group
    .flatMap((run): Shot[] => {
      const [firstMs, exposureMs] = [Date.parse(run.firstAt ?? ''), run.exposureS! * 1000]
      const of = `${exposureMs} ${run.setTempC ?? run.sensorTempC}`
      return run.frameIds.map((id, i) => ({ id, of, exposureMs, atMs: firstMs + (run.startsS?.[i] ?? i) * 1000 }))
    })
    .toSorted((a, b) => a.atMs - b.atMs)
  const rows: Shot[][] = []
  for (const shot of shots) {
    const before = rows.at(-1)?.at(-1)
    const goesOn = before?.of === shot.of && shot.atMs - before.atMs <= shot.exposureMs + PAUSE_MS
    if (goesOn) rows.at(-1)!.push(shot)
    else rows.push([shot])
  }
  return [...Map.groupBy(rows, ([shot]) => shot!.of).values()].flatMap((same) => {
    const short = same.filter((row) => row.length < FOR_A_MASTER)
    return (short.length ? short : same)
      .flat()
      .slice(0, MOST_OF_EACH)
      .map(({ id }) => id)
  })
}

function tellsFloor(group: readonly Run[]): boolean {
  const pairs = group.filter(({ frames }) => frames >= 2)
  if (new Set(pairs.map(({ exposureS }) => exposureS)).size >= 3) return true
  return [...Map.groupBy(group, ({ exposureS }) => exposureS).values()].some((same) => {
    const temps = same.flatMap((run) => tempOf(run) ?? [])
    return Math.max(...temps) - Math.min(...temps) > 5
  })
}

export type Taken = 'cooled' | 'uncooled'
/** Levels of all frames of one exposure against what that exposure should have given: fractions, 0 is right. */
export interface FloorMark {
  exposureS: number
  taken: Taken
  offs: number[]
}

/** What is drawn: each frame's level over its exposure, held against the steady ones. */
export function floorMarks({ points, compared }: Floor): FloorMark[] {
  const both = compared?.points ?? []
  const last = points.at(-1)
  const longest = both.at(-1)
  const rate = last
    ? last.rateAduPerS / (1 + last.departure)
    : longest
      ? middle(longest.levelsCooledAdu ?? []) / longest.exposureS
      : NaN
  const mark = (taken: Taken, exposureS: number, levels: readonly number[] = []): FloorMark[] =>
    levels.length ? [{ exposureS, taken, offs: levels.map((adu) => adu / exposureS / rate - 1) }] : []
  return [
    ...(points.length
      ? points.flatMap(({ exposureS, levelsAdu }) => mark('cooled', exposureS, levelsAdu))
      : both.flatMap(({ exposureS, levelsCooledAdu }) => mark('cooled', exposureS, levelsCooledAdu))),
    ...both.flatMap(({ exposureS, levelsUncooledAdu }) => mark('uncooled', exposureS, levelsUncooledAdu)),
  ]
}

function middle(values: readonly number[]): number {
  const sorted = values.toSorted((a, b) => a - b)
  const half = sorted.length >> 1
  return sorted.length % 2 ? sorted[half]! : (sorted[half - 1]! + sorted[half]!) / 2
}

/** Where a plot of these marks has its edges and lines: at least two per cent either way, at most twelve; what lies beyond stands at the edge. */
export function floorScale(marks: readonly FloorMark[], more: readonly number[] = []) {
  const seconds = [...marks.map(({ exposureS }) => exposureS), ...more.filter((s) => s > 0)]
  const most = Math.max(0, ...marks.flatMap(({ offs }) => offs.map(Math.abs)))
  const reach = Math.min(0.12, Math.max(0.02, 1.1 * most))
  const step = [0.01, 0.02, 0.04].find((one) => reach <= 3 * one) ?? 0.04
  const steps = Math.ceil(reach / step - 1e-9)
  return {
    fromS: Math.min(...seconds) / 1.35,
    toS: Math.max(...seconds) * 1.35,
    reach: steps * step,
    lines: Array.from({ length: 2 * steps + 1 }, (_, i) => (i - steps) * step),
  }
}

const percent = (fraction: number) => withUnit(number(100 * fraction, 1), '%')
const signed = (fraction: number) => `${fraction > 0.0005 ? '+' : ''}${percent(fraction)}`

/** The plot as a table. */
export const floorRows = ({ points }: Floor) =>
  points.map(({ exposureS, frames, rateAduPerS, departure, jump, steady }) => ({
    exposure: exposure(exposureS),
    frames: number(frames),
    level: withUnit(number(rateAduPerS * exposureS), 'ADU'),
    off: signed(departure),
    jump: percent(jump),
    steady,
  }))

/** The comparison as a table. */
export const comparedRows = (compared: NonNullable<Floor['compared']>) =>
  compared.points.map(({ exposureS, levelChange, levelDiffers, jumpCooled, jumpUncooled, jumpDiffers }) => ({
    exposure: exposure(exposureS),
    change: signed(levelChange),
    cooled: jumpCooled === null ? 'one frame only' : percent(jumpCooled),
    uncooled: jumpUncooled === null ? 'one frame only' : percent(jumpUncooled),
    said: levelDiffers ? 'another level' : jumpDiffers ? 'jumps otherwise' : 'the same',
  }))

/** What differs, and at which exposures; the table has the figures. */
export function comparedText({ points, cooled, uncooled, pedestalDiffers }: NonNullable<Floor['compared']>): string {
  const at = (differs: (point: (typeof points)[number]) => boolean) =>
    points.filter(differs).map(({ exposureS }) => exposure(exposureS))
  const [levels, jumps] = [at((point) => point.levelDiffers), at((point) => point.jumpDiffers)]
  const pedestal =
    pedestalDiffers === null
      ? `the pedestal ${cooled.pedestalAdu === null ? 'cooled' : 'uncooled'} is not known: log a dark flat of that temperature`
      : pedestalDiffers
        ? `the pedestal is ${withUnit(number(Math.abs(uncooled.pedestalAdu! - cooled.pedestalAdu!)), 'ADU')} ${uncooled.pedestalAdu! > cooled.pedestalAdu! ? 'higher' : 'lower'}`
        : 'the pedestal is the same'
  const parts = [
    levels.length ? `another level at ${levels.join(', ')}` : 'the same level at every exposure',
    jumps.length ? `jumps otherwise at ${jumps.join(', ')}` : 'jumps no differently',
    pedestal,
  ]
  return `Uncooled: ${parts.join('; ')}.`
}

/** "cooled, −10.0 °C" */
export const takenText = (taken: Taken, compared: NonNullable<Floor['compared']>) =>
  `${taken}, ${measuredTemp(compared[taken].tempC)}`

/** The floor that was found beside the one of the rules. */
export function againstRules(floorS: number, ruleS: number): { text: string; same: boolean } {
  const [found, rule] = [exposure(floorS), exposure(ruleS)]
  if (Math.abs(floorS - ruleS) < 0.01 * Math.max(floorS, ruleS))
    return { text: `The rules of this camera say ${rule} as well.`, same: true }
  if (ruleS === 0) return { text: `The rules of this camera set no floor; it was found at ${found}.`, same: false }
  return floorS < ruleS
    ? { text: `The rules of this camera ask for ${rule}: by these frames, ${found} would do.`, same: false }
    : { text: `The rules of this camera allow ${rule}: by these frames, that is too short.`, same: false }
}

/** What stands as the reason of the rule. */
export const floorReason = (floorS: number, { night, settings }: Pick<FloorSeries, 'night' | 'settings'>) =>
  `Measured on ${nightName(night)} with ${settings}: steady from ${exposure(floorS)} on.`
