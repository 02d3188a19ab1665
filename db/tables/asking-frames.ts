import { query, type Readable } from '../handle.ts'

/** A light, or a flat, as far as it decides which masters it asks for. */
export interface AskingFrame {
  id: number
  night: string
  kind: 'light' | 'flat'
  darkKey: number | null
  flatKey: number | null
  exposureS: number | null
  setTempC: number | null
  sensorTempC: number | null
  target: string | null
  filter: string | null
  rig: string | null
  mechAngleDeg: number | null
  startedAt: string | null
}

const ofNight = query<AskingFrame, [string, string]>(
  `SELECT id, night, kind, dark_key AS darkKey, flat_key AS flatKey, exposure_s AS exposureS, set_temp_c AS setTempC,
     sensor_temp_c AS sensorTempC, target, filter, rig, mech_angle_deg AS mechAngleDeg, started_at AS startedAt
     FROM frames INDEXED BY frames_by_night
    WHERE night >= ? AND night <= ? AND kind IN ('light', 'flat') AND aside = 0 AND integrated = 0
      AND state IN ('ok', 'out of reach')`,
)
/** Lights and flats of these nights that need calibration. */
export const askingFrames = (db: Readable, first: string, last: string): AskingFrame[] => ofNight.all(db, first, last)

const nights = query<{ night: string; frames: number }>(
  `SELECT night, count(*) AS frames FROM frames INDEXED BY frames_by_night GROUP BY night ORDER BY night DESC`,
)
/** Every night of the log, newest first, with its number of frames. */
export const nightSizes = (db: Readable): { night: string; frames: number }[] => nights.all(db)
