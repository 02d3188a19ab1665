import type { Figures } from '../../main/contract/index.ts'
import { query, type Readable } from '../handle.ts'

/** A measured flat of an earlier night. */
export interface EarlierFlat {
  rig: string | null
  /** Number of its `darkKey`: what its black level is looked up by. */
  darkKey: number
  channels: NonNullable<Figures['channels']>
  /** True where a sound master has taken it in. */
  built: boolean
}
type Row = Omit<EarlierFlat, 'channels' | 'built'> & { channels: string; built: number }

/** Flats that are looked at: a few nights' worth. */
const MOST = 100

const source = (rejected: string) =>
  `EXISTS (SELECT 1 FROM master_sources JOIN masters ON masters.id = master_id
            WHERE frame_id = frames.id AND ${rejected} AND masters.state != 'damaged')`
const earlier = query<Row, [string, string]>(
  `SELECT rig, dark_key AS darkKey, json_extract(figures, '$.channels') AS channels, ${source('rejected IS NULL')} AS built
     FROM frames JOIN frame_figures ON frame_id = frames.id
    WHERE flat_key = (SELECT id FROM match_keys WHERE text = ?) AND kind = 'flat' AND night < ?
      AND aside = 0 AND integrated = 0 AND state IN ('ok', 'out of reach', 'gone')
      AND json_extract(figures, '$.channels') IS NOT NULL AND NOT ${source('rejected IS NOT NULL')}
    ORDER BY night DESC LIMIT ${MOST}`,
)
/** Measured colour flats of a `flatKey` from before a night that nobody set aside and no master left out, newest first. */
export const earlierFlats = (db: Readable, key: string, night: string): EarlierFlat[] =>
  earlier.all(db, key, night).map(({ channels, built, ...row }) => ({
    ...row,
    channels: JSON.parse(channels) as EarlierFlat['channels'],
    built: built === 1,
  }))

const blackLevels = (['darkFlat', 'bias', 'dark'] as const).map((kind) =>
  query<{ medianAdu: number; exposureS: number }, [number]>(
    `SELECT json_extract(figures, '$.median') AS medianAdu, coalesce(exposure_s, 0) AS exposureS
       FROM (SELECT id, exposure_s FROM frames WHERE dark_key = ? AND kind = '${kind}' ORDER BY exposure_s LIMIT 50)
       JOIN frame_figures ON frame_id = id WHERE figures IS NOT NULL ORDER BY exposure_s LIMIT 1`,
  ),
)
/** Median (ADU) of the shortest measured dark, dark flat or bias of these settings: it holds the least dark current. Null: none. */
export function blackLevel(db: Readable, darkKey: number): number | null {
  const found = blackLevels.flatMap((kind) => kind.one(db, darkKey) ?? [])
  return found.sort((a, b) => a.exposureS - b.exposureS)[0]?.medianAdu ?? null
}
