import type { SensorRules } from '../../../main/contract/index.ts'
import { number, withUnit } from '../../parts/format.ts'

export type RuleName = Exclude<keyof SensorRules, 'class' | 'name'>

export const SENSOR_RULES: readonly { name: RuleName; label: string; unit: string; percent?: boolean }[] = [
  { name: 'floorS', label: 'Shortest calibration exposure', unit: 's' },
  { name: 'flatTargetAdu', label: 'Target level of a flat', unit: 'ADU of 16 bits' },
  { name: 'flatToleranceFraction', label: 'How far off the target a flat may be', unit: '%', percent: true },
  { name: 'linearFraction', label: 'Brightest channel below this part of full scale', unit: '%', percent: true },
  { name: 'leastSnr', label: 'Least signal over noise of the dimmest channel', unit: '' },
  { name: 'biasAllowed', label: 'A bias may stand in for a dark flat', unit: '' },
  { name: 'cooledCalibration', label: 'Calibration frames as cold as the lights', unit: '' },
  { name: 'flatNeedsSameGain', label: 'Flats with the lights’ gain and offset', unit: '' },
]

/** A rule's value in words: "3 s", "70 %", "yes". */
export function ruleValue({ unit, percent }: (typeof SENSOR_RULES)[number], value: number | boolean): string {
  if (typeof value === 'boolean') return value ? 'yes' : 'no'
  const text = number(percent ? 100 * value : value, 3, true)
  return unit ? withUnit(text, unit) : text
}
