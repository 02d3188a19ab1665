import { Refusal, type SensorRules, type Tolerances } from '../contract/index.ts'

interface Limit {
  least: number
  most: number
  /** What it is, for a sentence. */
  what: string
  whole?: boolean
}

const tolerances: Record<keyof Tolerances, Limit> = {
  tempC: { least: 0, most: 10, what: 'A tolerance of temperature, °C,' },
  exposureFraction: { least: 0, most: 0.5, what: 'A tolerance of exposure, as a fraction,' },
  exposureS: { least: 0, most: 10, what: 'A tolerance of exposure, s,' },
  angleDeg: { least: 0, most: 90, what: "A tolerance of the rotator's angle, degrees," },
  nearTempC: { least: 0, most: 30, what: 'What is near in temperature, °C,' },
  nearExposureFraction: { least: 0, most: 0.9, what: 'What is near in exposure, as a fraction,' },
  nearDarkFlatExposureFraction: { least: 0, most: 0.9, what: "What is near in a dark flat's exposure, as a fraction," },
  flatTempNoteC: { least: 0, most: 60, what: "A flat's difference in temperature that is noted, °C," },
  darkCount: { least: 1, most: 1000, what: 'The number of darks', whole: true },
  darkFlatCount: { least: 1, most: 1000, what: 'The number of dark flats', whole: true },
  flatCount: { least: 1, most: 1000, what: 'The number of flats', whole: true },
  leastToBuild: { least: 2, most: 1000, what: 'The least number of frames in a master', whole: true },
  darkAgingDays: { least: 1, most: 10_000, what: 'The days after which a dark is checked', whole: true },
  flatAgingDays: { least: 1, most: 10_000, what: 'The days after which a flat is checked', whole: true },
  checkLocalFraction: {
    least: 0.002,
    most: 0.2,
    what: 'The largest local change with which a flat holds, as a fraction,',
  },
  checkBlocksFraction: {
    least: 0.001,
    most: 0.2,
    what: 'The change of most blocks with which a flat holds, as a fraction,',
  },
}

type RuleValue = Exclude<keyof SensorRules, 'class' | 'name'>
const rules: Record<RuleValue, Limit | 'yes or no'> = {
  floorS: { least: 0, most: 3600, what: 'The shortest exposure, s,' },
  biasAllowed: 'yes or no',
  flatTargetAdu: { least: 1000, most: 65_000, what: "A flat's level, ADU of 16 bits," },
  flatToleranceFraction: { least: 0.01, most: 1, what: "How far a flat's level may be off, as a fraction," },
  linearFraction: { least: 0.05, most: 1, what: 'The end of the linear range, as a fraction of full scale,' },
  leastSnr: { least: 0, most: 10_000, what: 'The least signal-to-noise ratio' },
  cooledCalibration: 'yes or no',
  flatNeedsSameGain: 'yes or no',
}

function hold(value: number, { least, most, what, whole }: Limit): void {
  if (whole && !Number.isInteger(value)) throw new Refusal(`${what} is a whole number.`)
  if (!(value >= least && value <= most)) throw new Refusal(`${what} lies between ${least} and ${most}.`)
}

/** @throws Refusal, one sentence, for tolerances that cannot be meant */
export function checkTolerances(t: Tolerances): void {
  for (const [name, limit] of Object.entries(tolerances)) hold(t[name as keyof Tolerances], limit)
  if (t.nearTempC < t.tempC) throw new Refusal('What is near in temperature cannot be closer than what matches.')
  if (t.nearExposureFraction < t.exposureFraction || t.nearDarkFlatExposureFraction < t.exposureFraction)
    throw new Refusal('What is near in exposure cannot be closer than what matches.')
  if (t.checkBlocksFraction > t.checkLocalFraction)
    throw new Refusal('Most blocks of a check flat cannot be let change by more than any one of them.')
}

/** The rules of a class with these values in place of its own. @throws Refusal for a value that cannot be meant */
export function withRules(
  before: SensorRules,
  values: Record<string, { value: number | boolean; reason?: string }>,
): SensorRules {
  const after: Record<string, unknown> = { ...before }
  for (const [name, { value, reason }] of Object.entries(values)) {
    if (!Object.hasOwn(rules, name)) throw new Refusal(`There is no rule "${name}" for sensors.`)
    const field = name as RuleValue
    const limit = rules[field]
    if (limit === 'yes or no') {
      if (typeof value !== 'boolean') throw new Refusal(`The rule "${name}" is yes or no.`)
    } else if (typeof value !== 'number') throw new Refusal(`${limit.what} is a number.`)
    else hold(value, limit)
    after[field] = { ...before[field], value, ...(reason && { reason }), source: 'set by you' }
  }
  return after as SensorRules
}
