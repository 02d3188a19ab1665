import { command, query, type Readable, type Writable } from '../handle.ts'

/** What the user said of a camera: the class of its sensor, and that it is gone. `body` is '' for all of that name. */
export interface CameraRecord {
  camera: string
  body: string
  class: 'glow' | 'quiet' | 'yours' | null
  goneAt: string | null
}

const all = query<CameraRecord>('SELECT camera, body, class, gone_at AS goneAt FROM cameras ORDER BY camera, body')
export const cameraRecords = (db: Readable): CameraRecord[] => all.all(db)

const put = command<[string, string, string | null, string | null]>(
  `INSERT INTO cameras (camera, body, class, gone_at) VALUES (?, ?, ?, ?)
   ON CONFLICT DO UPDATE SET class = excluded.class, gone_at = excluded.gone_at`,
)
export const putCamera = (db: Writable, record: CameraRecord): void =>
  void put(db, record.camera, record.body, record.class, record.goneAt)

// Camera and body are a part of every dark key: one frame of each key tells, instead of every frame.
const oneOfEach = (columns: string) =>
  `SELECT DISTINCT ${columns} FROM match_keys
     JOIN frames ON frames.id = (SELECT id FROM frames WHERE dark_key = match_keys.id LIMIT 1)`
const known = query<{ camera: string }>(
  `${oneOfEach('camera')} WHERE camera IS NOT NULL UNION SELECT DISTINCT camera FROM masters WHERE camera IS NOT NULL`,
)
/** Cameras by the name that headers give them. */
export const knownCameras = (db: Readable): string[] => known.all(db).map((row) => row.camera)

const knownPairs = query<{ camera: string; body: string }>(
  `${oneOfEach('camera, body')} WHERE camera IS NOT NULL AND body IS NOT NULL
    UNION SELECT DISTINCT camera, body FROM masters WHERE camera IS NOT NULL AND body IS NOT NULL`,
)
/** Cameras with each body known of them. */
export const knownBodies = (db: Readable): { camera: string; body: string }[] => knownPairs.all(db)
