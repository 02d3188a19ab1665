import type { SettingsAnswer } from '../../../main/contract/index.ts'

export type ToleranceName = keyof SettingsAnswer['tolerances']

/** Each tolerance as a person meets it: what it is called, its unit, and what it does. `percent`: shown × 100. */
export interface ToleranceWords {
  name: ToleranceName
  label: string
  unit: string
  percent?: boolean
  effect: string
}

export const TOLERANCES: readonly { title: string; of: readonly ToleranceWords[] }[] = [
  {
    title: 'What counts as the same',
    of: [
      { name: 'tempC', label: 'Sensor temperature', unit: '°C', effect: 'A dark this near in temperature is matched.' },
      {
        name: 'exposureFraction',
        label: 'Exposure, in proportion',
        unit: '%',
        percent: true,
        effect: 'A dark this near in exposure is matched.',
      },
      {
        name: 'exposureS',
        label: 'Exposure, short ones',
        unit: 's',
        effect: 'The same for short exposures: whichever of the two is larger counts.',
      },
      {
        name: 'angleDeg',
        label: 'Rotator angle',
        unit: '°',
        effect: 'A flat this near in angle is of the same train.',
      },
    ],
  },
  {
    title: 'What counts as near',
    of: [
      {
        name: 'nearTempC',
        label: 'Sensor temperature',
        unit: '°C',
        effect: 'Up to this a dark is near, with its cost named.',
      },
      {
        name: 'nearExposureFraction',
        label: 'Exposure of darks',
        unit: '%',
        percent: true,
        effect: 'Up to this a dark is near.',
      },
      {
        name: 'nearDarkFlatExposureFraction',
        label: 'Exposure of dark flats',
        unit: '%',
        percent: true,
        effect: 'Up to this a dark flat is near.',
      },
      {
        name: 'flatTempNoteC',
        label: 'Temperature of flats',
        unit: '°C',
        effect: 'Beyond this a flat is told to be warmer or colder than its lights.',
      },
    ],
  },
  {
    title: 'How many frames',
    of: [
      { name: 'darkCount', label: 'Darks to a master', unit: '', effect: 'So many are asked for.' },
      { name: 'darkFlatCount', label: 'Dark flats to a master', unit: '', effect: 'So many are asked for.' },
      { name: 'flatCount', label: 'Flats to a master', unit: '', effect: 'So many are asked for.' },
      {
        name: 'leastToBuild',
        label: 'Least to build from',
        unit: '',
        effect: 'With fewer, nothing is built; the frames wait for more.',
      },
    ],
  },
  {
    title: 'When a master is old',
    of: [
      { name: 'darkAgingDays', label: 'Darks', unit: 'days', effect: 'Then a check dark is asked for.' },
      { name: 'flatAgingDays', label: 'Flats', unit: 'days', effect: 'Then a check flat is asked for.' },
    ],
  },
  {
    title: 'When a check flat holds',
    of: [
      {
        name: 'checkLocalFraction',
        label: 'Largest local change',
        unit: '%',
        percent: true,
        effect: 'With a deeper dust shadow, or more vignetting, the flat on the shelf no longer holds.',
      },
      {
        name: 'checkBlocksFraction',
        label: 'Change of 95 % of the blocks',
        unit: '%',
        percent: true,
        effect: 'With more than this the flat on the shelf no longer holds.',
      },
    ],
  },
]

/** As it stands in the field. */
export const shownTolerance = ({ percent }: ToleranceWords, value: number) =>
  String(percent ? Number((value * 100).toFixed(6)) : value)

/** "0,5" and "−1" as people type them. */
export const typedNumber = (text: string) =>
  text.trim() === '' ? NaN : Number(text.trim().replace(',', '.').replace('\u2212', '-'))

/** What was typed, in the contract's terms; null where it is no number from 0 up. */
export function typedTolerance({ percent, unit }: ToleranceWords, text: string): number | null {
  const value = typedNumber(text)
  if (!Number.isFinite(value) || value < 0) return null
  if (unit === '' && (!Number.isInteger(value) || value < 1)) return null
  return percent ? value / 100 : value
}
