import { command, immediately, query, type Readable, type Writable } from '../handle.ts'

/** What stands before a camera from `since` (UTC) on, until the rig's next span. */
export interface RigSpan {
  rig: string
  since: string
  /** The capture folder that this rig writes into. */
  folder: string | null
  /** Where set, the rig speaks only for frames of this camera (INSTRUME). */
  camera: string | null
  body: string | null
  train: string | null
  filter: string | null
  siteName: string | null
  siteLatDeg: number | null
  siteLongDeg: number | null
}

const fields = `name AS rig, since, folder, camera, body, train, filter, site_name AS siteName,
  site_lat_deg AS siteLatDeg, site_long_deg AS siteLongDeg`

const all = query<RigSpan>(`SELECT ${fields} FROM rig_spans JOIN rigs ON rigs.id = rig_id ORDER BY name, since`)
/** Every span of every rig, by name and time. */
export const rigSpans = (db: Readable): RigSpan[] => all.all(db)

const putRig = command<[string]>('INSERT INTO rigs (name) VALUES (?) ON CONFLICT DO NOTHING')
const putSpan = command<[Record<string, string | number | null>]>(
  `INSERT INTO rig_spans (rig_id, since, folder, camera, body, train, filter, site_name, site_lat_deg, site_long_deg)
   VALUES ((SELECT id FROM rigs WHERE name = @rig), @since, @folder, @camera, @body, @train, @filter, @siteName, @siteLatDeg, @siteLongDeg)
   ON CONFLICT (rig_id, since) DO UPDATE SET folder = excluded.folder, camera = excluded.camera, body = excluded.body,
     train = excluded.train, filter = excluded.filter, site_name = excluded.site_name,
     site_lat_deg = excluded.site_lat_deg, site_long_deg = excluded.site_long_deg`,
)
/** Says what stands there from `since` on; the rig is made if it is new. */
export function putRigSpan(db: Writable, span: RigSpan): void {
  putRig(db, span.rig)
  putSpan(db, { ...span })
}

const dropSpans = command<[string]>('DELETE FROM rig_spans WHERE rig_id = (SELECT id FROM rigs WHERE name = ?)')
const dropRig = command<[string]>('DELETE FROM rigs WHERE name = ?')
/** These spans and no others; without any, the rig is forgotten. */
export const replaceRigSpans = (db: Writable, rig: string, spans: readonly RigSpan[]): void =>
  immediately(db, () => {
    dropSpans(db, rig)
    for (const span of spans) putRigSpan(db, { ...span, rig })
    if (spans.length === 0) dropRig(db, rig)
  })

const rename = command<[string, string]>('UPDATE rigs SET name = ? WHERE name = ?')
export const renameRig = (db: Writable, from: string, to: string): boolean => rename(db, to, from).changes === 1
