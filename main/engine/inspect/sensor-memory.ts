import type { SensorFiguresAnswer } from '../../contract/index.ts'
import { keyValue } from '../../frame/keys.ts'
import { immediately, type Writable } from '../../../db/handle.ts'
import { putSensor, sensorsKept, type SensorRecord } from '../../../db/tables/sensor-figures.ts'

type Setting = { [K in 'camera' | 'body' | 'gain' | 'offset' | 'readout']: SensorFiguresAnswer[K] | null } & {
  binning?: string | null
}

/** What a sensor's figures are kept under. */
export const settingKey = (s: Setting): string =>
  [s.camera, s.body, s.gain, s.offset, s.readout, s.binning ?? null].map(keyValue).join('\u001f')

/** Finds the figures of a frame's or master's own setting; ones that were kept without their binning stand for every binning. */
export function sensorFinder(sensors: readonly SensorRecord[]): (setting: Setting) => SensorRecord | undefined {
  const byKey = new Map(sensors.map((sensor) => [settingKey(sensor), sensor]))
  return (setting) => byKey.get(settingKey(setting)) ?? byKey.get(settingKey({ ...setting, binning: null }))
}

/** Keeps figures in the place of earlier ones of their setting. */
export const keepSensor = (db: Writable, figures: Omit<SensorRecord, 'id'>): void =>
  immediately(db, () => {
    const outdated = [settingKey(figures), settingKey({ ...figures, binning: null })]
    const replaced = sensorsKept(db).filter((one) => outdated.includes(settingKey(one)))
    putSensor(
      db,
      figures,
      replaced.map(({ id }) => id),
    )
  })
