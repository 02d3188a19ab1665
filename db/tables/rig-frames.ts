import { command, query, type Readable, type Writable } from '../handle.ts'

const idsBetween = query<{ id: number }, [number, string, string, number]>(
  'SELECT id FROM frames WHERE id > ? AND path >= ? AND path < ? ORDER BY id LIMIT ?',
)
/** Ids of frames with paths from `from` up to `to`, in order, after an id: a long list is read piece by piece. */
export const frameIdsBetween = (db: Readable, from: string, to: string, after: number, limit: number): number[] =>
  idsBetween.all(db, after, from, to, limit).map((row) => row.id)

const rename = command<[string, string]>('UPDATE frames SET rig = ? WHERE rig = ?')
/** The rig goes by another name now. */
export const renameRigOfFrames = (db: Writable, from: string, to: string): void => void rename(db, to, from)

/** What a rig has written. */
export interface RigSum {
  rig: string
  frames: number
  lastFrameAt: string | null
}
const sums = query<RigSum>(
  'SELECT rig, count(*) AS frames, max(started_at) AS lastFrameAt FROM frames WHERE rig IS NOT NULL GROUP BY rig',
)
/** Reads every frame: not for the way of a verdict. */
export const rigSums = (db: Readable): RigSum[] => sums.all(db)

const nights = query<{ night: string }, [string, string, string, number]>(
  `SELECT DISTINCT night FROM frames WHERE rig = ? AND kind IN ('light', 'flat') AND aside = 0 AND night >= ? AND night <= ?
    ORDER BY night DESC LIMIT ?`,
)
/** Nights in which a rig took lights or flats, newest first. */
export const nightsWithRig = (db: Readable, rig: string, from: string, to: string, limit: number): string[] =>
  nights.all(db, rig, from, to, limit).map((row) => row.night)

const programs = query<{ program: string; id: number; frames: number }>(
  `SELECT program, max(id) AS id, count(*) AS frames FROM frames
    WHERE program IS NOT NULL AND integrated = 0 AND kind IN ('light', 'flat', 'dark', 'darkFlat')
    GROUP BY program ORDER BY id DESC`,
)
/** Each writing program with its newest frame. Reads every frame: not for the way of a verdict. */
export const newestOfPrograms = (db: Readable) => programs.all(db)
