import { query, type Readable } from '../handle.ts'

/** Lights, or flats, of one night that ask for the same masters. */
export interface AskingFrames {
  night: string
  kind: 'light' | 'flat'
  darkKey: number | null
  flatKey: number | null
  exposureS: number | null
  setTempC: number | null
  filter: string | null
  rig: string | null
  frames: number
  totalS: number
  /** Median of what the sensor had, °C; null where it was never measured. */
  tempC: number | null
  /** The first of them, and what may differ among frames of equal keys. */
  id: number
  startedAt: string | null
  telescope: string | null
  focalMm: number | null
  mechAngleDeg: number | null
  train: string | null
  cfa: string | null
  rowOrder: string | null
}

// Beside min() a bare column is that of the row of the minimum. The angle is told apart to a tenth of a degree.
const asking = (since: string) => `
  SELECT night, kind, dark_key AS darkKey, flat_key AS flatKey, exposure_s AS exposureS, set_temp_c AS setTempC, filter, rig,
     count(*) AS frames, coalesce(sum(exposure_s), 0) AS totalS, median(sensor_temp_c) AS tempC, min(id) AS id,
     started_at AS startedAt, telescope, focal_mm AS focalMm, mech_angle_deg AS mechAngleDeg, train, cfa, row_order AS rowOrder
   FROM frames INDEXED BY frames_by_night
  WHERE night >= ? AND night <= ? AND kind IN ('light', 'flat') AND aside = 0 AND integrated = 0
    AND state IN ('ok', 'out of reach')
  GROUP BY night, kind, dark_key, flat_key, exposure_s, set_temp_c, target, filter, rig, round(mech_angle_deg, 1)${since}`
const plain = query<AskingFrames, [string, string]>(asking(''))
// Frames between which the train was changed stay apart: their flats may be others.
const changed = query<AskingFrames, [string, string, string]>(
  asking(', (SELECT count(*) FROM json_each(?) WHERE value <= coalesce(started_at, night))'),
)

/**
 * What the lights and flats of these nights ask for, one row for all that ask the same.
 * @param changes moments (UTC) of train changes in these nights, that part one from the other
 */
export const askingFrames = (db: Readable, first: string, last: string, changes: readonly string[]): AskingFrames[] =>
  changes.length === 0 ? plain.all(db, first, last) : changed.all(db, first, last, JSON.stringify(changes))

const nights = query<{ night: string; frames: number }>(
  `SELECT night, count(*) AS frames FROM frames INDEXED BY frames_by_night GROUP BY night ORDER BY night DESC`,
)
/** Every night of the log, newest first, with its number of frames. */
export const nightSizes = (db: Readable): { night: string; frames: number }[] => nights.all(db)
