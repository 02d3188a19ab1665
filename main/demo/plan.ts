import { Random } from './random.ts'
import { site, targets, type TargetName } from './rig.ts'
import { story, type MistakeName, type Scene, type Settings, type Shots } from './story.ts'
import type { Pointing } from './sky.ts'

/** One frame of the night, settled before anything is written: the same night and seed give the same plan. */
export interface PlannedFrame {
  /** From 0, in the order in which they are taken. */
  number: number
  /** Below the capture folder, with forward slashes. */
  path: string
  kind: Shots['kind']
  aside: Shots['aside'] | null
  target: TargetName | null
  settings: Settings
  exposureS: number
  startedAtMs: number
  /** When the file is whole: exposure and readout over. */
  savedAtMs: number
  sensorTempC: number
  /** How the telescope looked; null for frames that do not see the sky. */
  pointing: Pointing | null
  /** Where the focuser stands: moved within a run through focus, at rest until the next. */
  focuserSteps: number
  levelAdu: number | null
  lightFactor: number
  /** Only this fraction of the file is written; null where all of it is. */
  writtenFraction: number | null
  mistakes: MistakeName[]
}

const MINUTE = 60_000
const READOUT_S = 1.8
/** After a light the mount moves a little and settles. */
const DITHER_S = 7
const AIR_C = 19
/** The sensor nears its set point by a factor e in so many minutes. */
const COOLS_IN_MIN = 4.5

const folders = { light: 'lights', dark: 'darks', flat: 'flats', darkFlat: 'dark-flats' } as const

/** @param night the date on which it begins, like 2026-11-20 */
export function planNight(night: string, seed: number): PlannedFrame[] {
  const frames: PlannedFrame[] = []
  const counts = new Map<string, number>()
  const coolingFromMs = instant(night, story[0].at)
  let settings: Settings | null = null
  let focusRuns = 0
  for (const scene of story) {
    settings = { ...(settings as Settings), ...scene.sets }
    if (!scene.shoots) continue
    if (scene.shoots.aside === 'focus') focusRuns++
    let atMs = instant(night, scene.at)
    for (let n = 1; n <= scene.shoots.count; n++) {
      const frame = planFrame(scene, scene.shoots, n, {
        night,
        seed,
        settings,
        atMs,
        coolingFromMs,
        counts,
        frames,
        focusRuns,
      })
      frames.push(frame)
      atMs = frame.savedAtMs + (scene.shoots.kind === 'light' && !scene.shoots.aside ? DITHER_S * 1000 : 200)
    }
  }
  return frames
}

/** The UTC instant (ms) of a local time of a night: times before noon belong to the next date. */
export function instant(night: string, at: string): number {
  const [hours, minutes] = at.split(':').map(Number)
  const day = hours < 12 ? 1 : 0
  return Date.parse(`${night}T00:00:00Z`) + ((day * 24 + hours - site.utcOffsetH) * 60 + minutes) * MINUTE
}

interface Moment {
  night: string
  seed: number
  settings: Settings
  atMs: number
  coolingFromMs: number
  counts: Map<string, number>
  frames: PlannedFrame[]
  /** How many times focus has been sought so far. */
  focusRuns: number
}

function planFrame(scene: Scene, shots: Shots, n: number, moment: Moment): PlannedFrame {
  const { seed, settings, atMs, frames } = moment
  const random = new Random(seed, 'plan', frames.length)
  const shift = { x: random.gaussian() * 6, y: random.gaussian() * 6 }
  const seeing = random.gaussian()
  const warmth = random.gaussian()
  const seesSky = shots.kind === 'light'
  return {
    number: frames.length,
    path: nameFrame(shots, settings, moment),
    kind: shots.kind,
    aside: shots.aside ?? null,
    target: shots.target ?? null,
    settings,
    exposureS: shots.exposureS,
    startedAtMs: atMs + Math.floor(random.uniform() * 180),
    savedAtMs: atMs + Math.round((shots.exposureS + READOUT_S) * 1000),
    sensorTempC: sensorTemp(atMs, shots, n, warmth, moment),
    pointing: seesSky
      ? {
          dx: shift.x,
          dy: shift.y,
          flipped: settings.side === 'WEST',
          fwhmPx: starWidth(shots, n, seeing),
          skyFactor: skyFactor(atMs, moment),
          transparency: 0.97 + 0.01 * seeing,
        }
      : null,
    focuserSteps: focuserAt(shots, n, moment),
    levelAdu: shots.levelAdu ?? null,
    // A panel wanders by half a per cent while it warms; nothing that a flat would mind.
    lightFactor: shots.kind === 'flat' ? 1 + 0.006 * (1 - n / shots.count) + 0.0008 * seeing : 1,
    writtenFraction: shots.cutShort === n ? 0.6 : null,
    mistakes: [...(scene.mistakes ?? []), ...(shots.cutShort === n ? (['cut-short'] as const) : [])],
  }
}

function nameFrame(shots: Shots, settings: Settings, { night, counts }: Moment): string {
  const folder = shots.aside ?? folders[shots.kind]
  const number = (counts.get(folder) ?? 0) + 1
  counts.set(folder, number)
  const target = shots.target ? targets[shots.target].name.toLowerCase().replaceAll(' ', '-') : null
  const filter = shots.kind === 'light' || shots.kind === 'flat' ? settings.filter : null
  const parts = [night, target, filter, `${shots.exposureS}s`, String(number).padStart(4, '0')]
  return `${folder}/${parts.filter(Boolean).join('_')}.fits`
}

/** Measured to a tenth of a degree: on its way down, at its set point, or above it. */
function sensorTemp(atMs: number, shots: Shots, n: number, warmth: number, moment: Moment): number {
  const { setTempC } = moment.settings
  const minutes = (atMs - moment.coolingFromMs) / MINUTE
  const cooling = setTempC + (AIR_C - setTempC) * Math.exp(-minutes / COOLS_IN_MIN)
  // The cooler gives way over two frames, and the sensor then stands where it can be held.
  const held = shots.warmsToC === undefined ? 0 : (shots.warmsToC - setTempC) * Math.min(1, 0.6 + 0.2 * n)
  return Math.round((cooling + held + 0.05 * warmth) * 10) / 10
}

/** A run through focus is a V of star widths; lights stand at its foot. */
function starWidth(shots: Shots, n: number, seeing: number): number {
  const sharp = 2.6 + 0.12 * seeing
  return shots.aside === 'focus' ? Math.hypot(sharp, 2.4 * (n - (shots.count + 1) / 2)) : sharp
}

/** The tube shrinks as the night cools it: each run through focus finds a place a little further in. */
function focuserAt(shots: Shots, n: number, { focusRuns }: Moment): number {
  const best = 11_840 - 9 * focusRuns
  return shots.aside === 'focus' ? best + Math.round(30 * (n - (shots.count + 1) / 2)) : best
}

/** The last of dusk, then a sky that darkens a little until dawn comes near. */
function skyFactor(atMs: number, { night }: Moment): number {
  const sinceDusk = (atMs - instant(night, '18:50')) / MINUTE
  const untilDawn = (instant(night, '05:00') - atMs) / MINUTE
  return 1.05 + 3 * Math.exp(-Math.max(0, sinceDusk) / 9) + 2 * Math.exp(-Math.max(0, untilDawn) / 9)
}
