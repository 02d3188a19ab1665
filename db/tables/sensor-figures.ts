import type { SensorFiguresAnswer } from '../../main/contract/index.ts'
import { command, immediately, query, type Readable, type Writable } from '../handle.ts'

/** A measurement of one sensor at one setting. */
export interface SensorRecord extends SensorFiguresAnswer {
  id: number
  binning: string | null
}

type About = Pick<SensorRecord, 'id' | 'camera' | 'body' | 'gain' | 'offset' | 'readout' | 'binning' | 'measuredAt'> & {
  sources: string
}
interface Figure {
  measurement: number
  name: string
  value: number | null
  low: number | null
  high: number | null
}

const all = query<About>(
  `SELECT id, camera, body, gain, "offset", readout, binning, measured_at AS measuredAt, sources
     FROM sensor_measurements ORDER BY id`,
)
const allFigures = query<Figure>(
  'SELECT measurement_id AS measurement, name, value, low, high FROM sensor_figures ORDER BY measurement_id',
)

/** The newest measurement of each sensor and setting. One without gain or noise, which all else rests on, is left out. */
export function sensorsKept(db: Readable): SensorRecord[] {
  const byId = Map.groupBy(allFigures.all(db), (figure) => figure.measurement)
  return all.all(db).flatMap(({ sources, ...about }) => {
    const named = new Map(byId.get(about.id)?.map((figure) => [figure.name, figure]))
    const [ePerAdu, temporalDarkNoiseE] = ['ePerAdu', 'temporalDarkNoiseE'].map((name) => toEstimate(named.get(name)))
    if (!ePerAdu || !temporalDarkNoiseE) return []
    const saturationE = named.get('saturationE')?.value ?? null
    const darkCurrentEPerS = toEstimate(named.get('darkCurrentEPerS'))
    const linearityErrorPercent = toRange(named.get('linearityErrorPercent'))
    const darkCurrentAtC = named.get('darkCurrentAtC')?.value ?? null
    const doublingC = toDoubling(named.get('doublingC'))
    const dark = { darkCurrentEPerS, darkCurrentAtC, doublingC }
    const figures = { ePerAdu, temporalDarkNoiseE, saturationE, linearityErrorPercent, ...dark }
    return [{ ...about, ...figures, sources: JSON.parse(sources) as string[] }]
  })
}

const toEstimate = (figure?: Figure): SensorFiguresAnswer['darkCurrentEPerS'] =>
  figure?.value != null && figure.low !== null && figure.high !== null
    ? { value: figure.value, ci95: [figure.low, figure.high] }
    : null

const toRange = (figure?: Figure): SensorFiguresAnswer['linearityErrorPercent'] =>
  figure && figure.low !== null && figure.high !== null ? { min: figure.low, max: figure.high } : null

const toDoubling = (figure?: Figure): SensorFiguresAnswer['doublingC'] =>
  figure?.value == null ? null : { value: figure.value, ci95: toEstimate(figure)?.ci95 ?? null }

type Plain = string | number | null
const insert = command<Plain[]>(
  `INSERT INTO sensor_measurements (camera, body, gain, "offset", readout, binning, measured_at, sources)
   VALUES (?, ?, ?, ?, ?, ?, ?, ?)`,
)
const insertFigure = command<[number, string, Plain, Plain, Plain]>(
  'INSERT INTO sensor_figures (measurement_id, name, value, low, high) VALUES (?, ?, ?, ?, ?)',
)
const remove = command<[number]>('DELETE FROM sensor_measurements WHERE id = ?')

/** Keeps a measurement in the place of earlier ones. @param replaces their ids */
export const putSensor = (db: Writable, sensor: Omit<SensorRecord, 'id'>, replaces: readonly number[]): void =>
  immediately(db, () => {
    for (const id of replaces) remove(db, id)
    const { camera, body, gain, offset, readout, binning, measuredAt, sources } = sensor
    const { id } = insert(db, camera, body, gain, offset, readout, binning, measuredAt, JSON.stringify(sources))
    for (const name of ['ePerAdu', 'temporalDarkNoiseE', 'darkCurrentEPerS'] as const) {
      const figure = sensor[name]
      if (figure) insertFigure(db, id, name, figure.value, ...figure.ci95)
    }
    const { doublingC } = sensor
    const [low, high] = doublingC?.ci95 ?? [null, null]
    if (doublingC) insertFigure(db, id, 'doublingC', doublingC.value, low, high)
    for (const name of ['saturationE', 'darkCurrentAtC'] as const)
      if (sensor[name] != null) insertFigure(db, id, name, sensor[name], null, null)
    const range = sensor.linearityErrorPercent
    if (range) insertFigure(db, id, 'linearityErrorPercent', null, range.min, range.max)
  })
