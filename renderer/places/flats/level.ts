import type { Figures, SensorRules } from '../../../main/contract/index.ts'
import { exposure, number, withUnit } from '../../parts/format.ts'

const FULL = 65_535
/** Full scales of 12-, 14- and 16-bit converters, ADU: the smallest that holds the brightest pixel counts. */
const FULL_SCALES = [4095, 16_383, FULL]

export interface LevelAnswer {
  level: number
  target: number
  /** Level over target, black level off both. */
  ratio: number
  right: boolean
  text: string
}

/** The level of one flat against its target, and what to do: "dim the panel to 68 %, or expose 2.0 s: below the 3 s floor, so dim". */
export function flatLevelOf(
  figures: Pick<Figures, 'median' | 'max'>,
  exposureS: number | null,
  pedestal: number,
  rules: SensorRules,
): LevelAnswer {
  const full = FULL_SCALES.find((scale) => scale >= figures.max) ?? FULL
  const target = pedestal + (rules.flatTargetAdu.value / FULL) * (full - pedestal)
  const ratio = (figures.median - pedestal) / (target - pedestal)
  const right = Math.abs(ratio - 1) <= rules.flatToleranceFraction.value
  const said = `Level ${withUnit(number(figures.median), 'ADU')}, target ${withUnit(number(target), 'ADU')}`
  const text = right ? `${said}: right.` : `${said}: ${advice(ratio, exposureS, rules.floorS.value)}.`
  return { level: figures.median, target, ratio, right, text }
}

function advice(ratio: number, exposureS: number | null, floorS: number): string {
  if (!(ratio > 0)) return 'no light reached it: is the panel on, and the cap off?'
  const panel = `${ratio > 1 ? 'dim' : 'brighten'} the panel to ${withUnit(number(100 / ratio), '%')}`
  if (exposureS === null) return panel
  const shot = exposureS / ratio
  const short = shot < floorS ? `: below the ${exposure(floorS)} floor, so dim` : ''
  return `${panel}, or expose ${withUnit(number(shot, 1), 's')}${short}`
}

/** Red and blue against green, black level off: "red 0.62, blue 0.80 of green". Null for mono. */
export function balanceText(channels: Figures['channels'], pedestal: number): string | null {
  const green = (channels?.G.median ?? 0) - pedestal
  if (!channels || !(green > 0)) return null
  const share = (channel: 'R' | 'B') => number((channels[channel].median - pedestal) / green, 2)
  return `Balance: red ${share('R')}, blue ${share('B')} of green.`
}
