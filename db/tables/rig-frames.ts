import { command, query, type Readable, type Writable } from '../handle.ts'

const idsBetween = query<{ id: number }, [number, number, string, string]>(
  'SELECT id FROM frames WHERE id > ? AND id <= ? AND path >= ? AND path < ? ORDER BY id',
)
/**
 * Ids of frames with paths from `from` up to `to`, in order, among those after an id and up to another: however few fit, only
 * so many rows are read.
 */
export const frameIdsBetween = (db: Readable, from: string, to: string, after: number, upTo: number): number[] =>
  idsBetween.all(db, after, upTo, from, to).map((row) => row.id)

const unlit = query<{ id: number }>("SELECT id FROM frames WHERE kind = 'flat' AND light_source IS NULL ORDER BY id")
/** Flats of which neither header nor person has said what lit them. */
export const flatsOfUnknownLight = (db: Readable): number[] => unlit.all(db).map((row) => row.id)

const highest = query<{ id: number | null }>('SELECT max(id) AS id FROM frames')
export const highestFrameId = (db: Readable): number => highest.one(db)?.id ?? 0

const rename = command<[string, string]>('UPDATE frames SET rig = ? WHERE rig = ?')
/** The rig goes by another name now. */
export const renameRigOfFrames = (db: Writable, from: string, to: string): void => void rename(db, to, from)

/** When a frame of a night was exposed, on which rig, with a camera whose header names no body. */
export interface RigExposure {
  camera: string
  body: null
  rig: string
  startedAt: string
  exposureS: number | null
}
const shared = query<RigExposure, [string, string]>(
  `SELECT camera, body, rig, started_at AS startedAt, exposure_s AS exposureS FROM frames
    WHERE night = ? AND body IS NULL AND rig IS NOT NULL AND started_at IS NOT NULL AND camera IN (
      SELECT camera FROM frames WHERE night = ? AND body IS NULL AND rig IS NOT NULL AND camera IS NOT NULL
       GROUP BY camera HAVING count(DISTINCT rig) > 1)`,
)
/** Exposures of a night with cameras that more than one rig names. */
export const exposuresOfSharedCameras = (db: Readable, night: string): RigExposure[] => shared.all(db, night, night)

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

const programs = query<{ program: string; id: number; frames: number }, [number, number]>(
  `SELECT program, max(id) AS id, count(*) AS frames FROM frames
    WHERE id > ? AND id <= ? AND program IS NOT NULL AND integrated = 0 AND kind IN ('light', 'flat', 'dark', 'darkFlat')
    GROUP BY program`,
)
/** Each writing program with its newest frame and their number, among the frames after an id and up to another. */
export const newestOfPrograms = (db: Readable, after: number, upTo: number) => programs.all(db, after, upTo)
