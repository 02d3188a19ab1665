import type { SensorFiguresAnswer } from '../../../main/contract/index.ts'
import { measuredTemp, number, withUnit } from '../../parts/format.ts'
import { fieldWord } from '../../parts/labels.ts'
import { settingValue } from '../../parts/settings.ts'

interface Interval {
  value: number
  ci95: readonly [number, number] | null
}

/** One figure of a sensor: what it is worth and how sure that is; or what to shoot so that it can be told. */
export interface FigureRow {
  name: string
  value: string | null
  /** Between these it lies with 95 % certainty; what it means where it is no interval. */
  sure: string | null
  lacks: string | null
}

const CURVE =
  'Flats of three or more exposures up to saturation, two of each on a steady panel, and two dark flats of each of these exposures.'
const DARKS = 'Dark masters of three or more exposures at one temperature, say 60, 300 and 600 s: build or add them.'
const TEMPERATURES =
  'Dark masters of one exposure at temperatures at least 3 °C apart, say −10, −5 and 0 °C: build or add them.'

/** As many digits as the interval bears: two of its half width; three of the figure where it has none. */
function digitsOf({ value, ci95 }: Interval): number {
  const half = ci95 ? (ci95[1] - ci95[0]) / 2 : Math.abs(value) / 10
  return half > 0 ? Math.min(6, Math.max(0, 1 - Math.floor(Math.log10(half)))) : 3
}

function told(name: string, figure: Interval | null | undefined, unit: string, lacks: string, beside = ''): FigureRow {
  if (!figure) return { name, value: null, sure: null, lacks }
  const digits = digitsOf(figure)
  const sure = figure.ci95
    ? `${number(figure.ci95[0], digits)} to ${number(figure.ci95[1], digits)}`
    : 'two temperatures leave no interval'
  return { name, value: withUnit(number(figure.value, digits), unit) + beside, sure, lacks: null }
}

/** What is known of a sensor at one setting, each figure with its interval or with what is lacking. */
export function figureRows(sensor: SensorFiguresAnswer): FigureRow[] {
  const { ePerAdu, temporalDarkNoiseE, darkCurrentEPerS, darkCurrentAtC, doublingC } = sensor
  const { linearityErrorPercent: bend, saturationE } = sensor
  const [low, high] = ePerAdu.ci95
  const k = { value: 1 / ePerAdu.value, ci95: [1 / high, 1 / low] as const }
  const at = darkCurrentAtC == null ? '' : ` at ${measuredTemp(darkCurrentAtC)}`
  const percent = (value: number) => `${value > 0 ? '+' : ''}${withUnit(number(value, 2), '%')}`
  return [
    told('gain', ePerAdu, 'e⁻/ADU', ''),
    told('the same as K of EMVA 1288', k, 'ADU/e⁻', ''),
    told('temporal noise in the dark', temporalDarkNoiseE, 'e⁻', ''),
    told('dark current', darkCurrentEPerS, 'e⁻/s', DARKS, at),
    told('dark current doubles every', doublingC, '°C', TEMPERATURES),
    {
      name: 'off a straight line',
      value: bend && `${percent(bend.min)} to ${percent(bend.max)}`,
      sure: bend && 'least and most, 5 to 95 % of full',
      lacks: bend ? null : CURVE,
    },
    {
      name: 'full well seen',
      value: saturationE === null ? null : withUnit(number(saturationE), 'e⁻'),
      sure: saturationE === null ? null : 'where the noise stops growing',
      lacks: saturationE === null ? CURVE : null,
    },
  ]
}

/** "gain 100, offset 30, binning 1x1": what the figures hold for, besides the camera. */
export const settingTitle = (sensor: Pick<SensorFiguresAnswer, 'gain' | 'offset' | 'readout' | 'binning'>): string =>
  (['gain', 'offset', 'readout', 'binning'] as const)
    .flatMap((field) => {
      const value = settingValue(field, sensor[field])
      return value === null ? [] : [`${fieldWord(field)}\u00a0${value}`]
    })
    .join(', ')

/** Sensors by camera and body, each with its settings. */
export function byCamera(sensors: readonly SensorFiguresAnswer[]): { name: string; of: SensorFiguresAnswer[] }[] {
  const groups = Map.groupBy(sensors, ({ camera, body }) => (body ? `${camera}, body ${body}` : camera))
  return [...groups].map(([name, of]) => ({ name, of })).toSorted((a, b) => a.name.localeCompare(b.name))
}
