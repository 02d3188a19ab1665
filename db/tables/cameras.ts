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

const known = query<{ camera: string }>(
  'SELECT DISTINCT camera FROM frames WHERE camera IS NOT NULL UNION SELECT DISTINCT camera FROM masters WHERE camera IS NOT NULL',
)
/** Cameras by the name that headers give them. Reads every frame: not for the way of a verdict. */
export const knownCameras = (db: Readable): string[] => known.all(db).map((row) => row.camera)

const knownPairs = query<{ camera: string; body: string }>(
  `SELECT DISTINCT camera, body FROM frames WHERE camera IS NOT NULL AND body IS NOT NULL
    UNION SELECT DISTINCT camera, body FROM masters WHERE camera IS NOT NULL AND body IS NOT NULL`,
)
/** Cameras with each body known of them. Reads every frame, as `knownCameras` does. */
export const knownBodies = (db: Readable): { camera: string; body: string }[] => knownPairs.all(db)
