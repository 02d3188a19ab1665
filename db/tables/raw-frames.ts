import type { Frame } from '../../main/contract/index.ts'
import { query, type Readable } from '../handle.ts'
import { toFrame, wholeFrames, type FrameRow } from './frames.ts'

const later = query<{ night: string | null }, [string]>('SELECT min(night) AS night FROM frames WHERE night > ?')
/** The next night of the log after this one ('' to begin with). */
export const nightAfter = (db: Readable, night: string): string | null => later.one(db, night)?.night ?? null

// A frame that was left out of a master was judged once and is not offered again; one of a damaged master is. The index by night holds
// kind and aside too: running through it takes a tenth of the time that running through the rows of a million lights would.
const unbuilt = query<FrameRow, [string]>(
  `${wholeFrames} WHERE frames.id IN
     (SELECT id FROM frames INDEXED BY frames_by_night
       WHERE night = ? AND kind IN ('dark', 'darkFlat', 'flat', 'bias') AND aside = 0)
      AND integrated = 0 AND state IN ('ok', 'broken', 'out of reach')
      AND NOT EXISTS (SELECT 1 FROM master_sources JOIN masters ON masters.id = master_id
                       WHERE frame_id = frames.id AND masters.state != 'damaged')
    ORDER BY started_at, path`,
)
/** Raw calibration frames of a night that no sound master was made with, broken ones included, in the order in which they were taken. */
export const unbuiltRawFrames = (db: Readable, night: string): Frame[] => unbuilt.all(db, night).map(toFrame)

/** What a master was made from, and what was left out of it, in order. */
export interface SourceRow {
  path: string
  sha256: Buffer | null
  frameId: number | null
  rejected: string | null
}
const ofMaster = query<SourceRow, [number]>(
  `SELECT path, sha256, frame_id AS frameId, rejected FROM master_sources WHERE master_id = ? ORDER BY position`,
)
export const sourcesOfMaster = (db: Readable, masterId: number): SourceRow[] => ofMaster.all(db, masterId)
