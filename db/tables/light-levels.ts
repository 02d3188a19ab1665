import { query, type Readable } from '../handle.ts'

/** Lights, or flats, of one `darkKey` and exposure: how many there are, and how bright they are. */
export interface LightLevels {
  frames: number
  /** Mean of their medians, ADU; null while none is measured. */
  medianAdu: number | null
  /** As their headers state it; null where they do not. */
  electronsPerAdu: number | null
}

const levels = query<LightLevels, [string, string, number, number]>(
  `SELECT count(*) AS frames, avg(json_extract(figures, '$.median')) AS medianAdu, max(electrons_per_adu) AS electronsPerAdu
     FROM frames LEFT JOIN frame_figures ON frame_id = frames.id
    WHERE dark_key = (SELECT id FROM match_keys WHERE text = ?) AND kind = ? AND aside = 0 AND state = 'ok'
      AND exposure_s BETWEEN ? AND ?`,
)
export const lightLevels = (
  db: Readable,
  kind: 'light' | 'flat',
  key: string,
  leastS: number,
  mostS: number,
): LightLevels => levels.one(db, key, kind, leastS, mostS)!

const gains = query<{ value: number }, [string]>(
  `SELECT electrons_per_adu AS value FROM frames
    WHERE dark_key = (SELECT id FROM match_keys WHERE text = ?) AND electrons_per_adu IS NOT NULL LIMIT 1`,
)
/** Electrons per ADU as some frame of this `darkKey` states it. */
export const statedGain = (db: Readable, key: string): number | null => gains.one(db, key)?.value ?? null
