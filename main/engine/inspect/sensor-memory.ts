import { z } from 'zod'
import { sensorFiguresSchema, type SensorFiguresAnswer } from '../../contract/index.ts'
import { keyValue } from '../../frame/keys.ts'
import type { DarkLevels } from '../../inspect/dark-signal.ts'
import { immediately, type Readable, type Writable } from '../../../db/handle.ts'
import { putSetting, setting } from '../../../db/tables/settings.ts'

const levelsSchema = z.record(
  z.string(),
  z.object({ medianAdu: z.number(), tailAdu: z.number(), hotAdu: z.number(), glowPeakAdu: z.number() }),
)

/** What dark masters tell, by the SHA-256 of their file: never out of date, may be forgotten at any time. */
export const darkLevelsKept = (db: Readable): Record<string, DarkLevels> =>
  levelsSchema.catch({}).parse(setting(db, 'darkLevels') ?? {})

export const keepDarkLevels = (db: Writable, sha256: string, levels: DarkLevels): void =>
  immediately(db, () => putSetting(db, 'darkLevels', { ...darkLevelsKept(db), [sha256]: levels }))

/** Figures of sensors, by camera, body, gain, offset and readout: the newest measurement of each. */
export const sensorsKept = (db: Readable): SensorFiguresAnswer[] =>
  z
    .array(sensorFiguresSchema)
    .catch([])
    .parse(setting(db, 'sensorFigures') ?? [])

type Setting = Pick<SensorFiguresAnswer, 'camera' | 'body' | 'gain' | 'offset' | 'readout'>
export const settingKey = (s: { [K in keyof Setting]: Setting[K] | null }): string =>
  [s.camera, s.body, s.gain, s.offset, s.readout].map(keyValue).join('\u001f')

export const keepSensor = (db: Writable, figures: SensorFiguresAnswer): void =>
  immediately(db, () => {
    const others = sensorsKept(db).filter((one) => settingKey(one) !== settingKey(figures))
    putSetting(db, 'sensorFigures', [...others, figures])
  })
