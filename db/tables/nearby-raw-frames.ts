import type { Frame } from '../../main/contract/index.ts'
import { query, type Readable } from '../handle.ts'
import { framesUnmeasured, toFrame, type FrameRow } from './frames.ts'

/**
 * Raw frames that are looked at on either side of a night, for each key: more than any master takes. Years of frames that were
 * calibrated elsewhere lie under the same key, and a verdict cannot wait for them all.
 */
const MOST = 300

type RawKind = 'dark' | 'darkFlat' | 'bias' | 'flat'

/** The nearest in time on one side, then those of them that are sound, unbuilt and in use. */
const nearest = (fits: string, side: '>=' | '<', order: 'ASC' | 'DESC') =>
  query<FrameRow, (string | number)[]>(
    `${framesUnmeasured} WHERE frames.id IN (SELECT id FROM frames WHERE ${fits} AND night ${side} ? ORDER BY night ${order} LIMIT ${MOST})
        AND state = 'ok' AND aside = 0 AND integrated = 0
        AND NOT EXISTS (SELECT 1 FROM master_sources JOIN masters ON masters.id = master_id
                         WHERE frame_id = frames.id AND rejected IS NULL AND masters.state != 'damaged')`,
  )
const bothSides = (fits: string) => [nearest(fits, '>=', 'ASC'), nearest(fits, '<', 'DESC')]

const keyed = (column: string) => `${column} = (SELECT id FROM match_keys WHERE text = ?) AND kind = ?`
const darks = bothSides(`${keyed('dark_key')} AND exposure_s = ?`)
const flats = bothSides(keyed('flat_key'))

const exposures = query<{ exposureS: number }, [string, string, number, number]>(
  `SELECT DISTINCT exposure_s AS exposureS FROM frames WHERE ${keyed('dark_key')} AND exposure_s BETWEEN ? AND ?`,
)

/** Without figures: raw darks or dark flats of a `darkKey` and about an exposure that no sound master has taken in, nearest to a night. */
export function unbuiltDarks(
  db: Readable,
  { key, kind, leastS, mostS }: { key: string; kind: RawKind; leastS: number; mostS: number },
  night: string,
): Frame[] {
  const found = exposures.all(db, key, kind, leastS, mostS)
  return found.flatMap(({ exposureS }) =>
    darks.flatMap((side) => side.all(db, key, kind, exposureS, night).map(toFrame)),
  )
}

/** Without figures: raw flats of a `flatKey` that no sound master has taken in, nearest to a night. */
export const unbuiltFlats = (db: Readable, key: string, night: string): Frame[] =>
  flats.flatMap((side) => side.all(db, key, 'flat', night).map(toFrame))
