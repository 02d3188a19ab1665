import type { LightSource, Master, Settings } from '../../main/contract/index.ts'
import { assignments, columns, fields, places, settingForms, toStored } from '../columns.ts'
import { command, immediately, query, type Readable, type Writable } from '../handle.ts'
import { forgetMasterCards } from './master-cards.ts'

/** A master as it is written; `ageDays` is counted when it is read, `sources` stand in a table of their own. */
export interface NewMaster extends Omit<
  Master,
  'id' | 'ageDays' | 'sources' | 'capturedWith' | 'provenWith' | 'refutedAt'
> {
  size: number
  copiedFrom: string | null
  built: boolean
  sources: NewSource[]
}

export interface NewSource {
  path: string
  sha256: Buffer | null
  frameId: number | null
  /** Why it was left out of the integration; null where it went in. */
  rejected: string | null
}

const forms = {
  ...settingForms,
  kind: 'plain',
  path: 'plain',
  frames: 'plain',
  madeAt: 'plain',
  provenAt: 'plain',
  epoch: 'plain',
  state: 'plain',
  sha256: 'plain',
  scale: 'plain',
  subtracted: 'plain',
  program: 'plain',
  lightSource: 'plain',
} as const
const names = [...Object.keys(forms), 'size', 'copiedFrom', 'built', 'figures']

type Row = Omit<Master, 'ageDays' | 'figures' | 'sources'> & { figures: string | null; sources: string | null }
type Named = [Record<string, string | number | Buffer | null>]

// An id that was taken back is never given again while steps may still speak of it.
const insert = command<(string | number | Buffer | null)[]>(
  `INSERT INTO masters (id, ${columns(names)}, added_at) VALUES (1 + max(coalesce((SELECT max(id) FROM masters), 0),
     coalesce((SELECT max(json_extract(back, '$.master')) FROM undo_steps), 0)), ${places(names)}, ?)`,
)
const insertSource = command<[number, number, string, Buffer | null, number | null, string | null]>(
  'INSERT INTO master_sources (master_id, position, path, sha256, frame_id, rejected) VALUES (?, ?, ?, ?, ?, ?)',
)

/** Takes a master with its sources into the library, at once. @returns its id */
export const insertMaster = (db: Writable, master: NewMaster, at: string): number =>
  immediately(db, () => {
    const { size, copiedFrom, built, figures, sources } = master
    const { id } = insert(
      db,
      ...toStored(forms, master),
      size,
      copiedFrom,
      built ? 1 : 0,
      figures && JSON.stringify(figures),
      at,
    )
    sources.forEach((source, i) => insertSource(db, id, i, source.path, source.sha256, source.frameId, source.rejected))
    return id
  })

const whole = (sources: string) =>
  `SELECT masters.id, ${fields(forms, 'masters')}, NULL AS ageDays, figures, ${sources} AS sources FROM masters`
// Order, rows and sources are read one after another: sorting whole rows, and looking for the sources master by master, would take
// most of the time where there are many.
const order = query<{ id: number }>(
  'SELECT id FROM masters ORDER BY kind, camera, exposure_s, sensor_temp_c, filter, id',
)
const all = query<Row>(whole('NULL'))
const allSources = query<{ id: number; path: string }>(
  'SELECT master_id AS id, path FROM master_sources WHERE rejected IS NULL ORDER BY master_id, position',
)
const ownSources = `(SELECT json_group_array(path ORDER BY position) FROM master_sources
  WHERE master_id = masters.id AND rejected IS NULL)`
const byId = query<Row, [number]>(`${whole(ownSources)} WHERE id = ?`)

// A master's frames are of one run: the first tells for all.
const captured = query<{ id: number; program: string | null }>(
  `SELECT master_id AS id, program FROM master_sources JOIN frames ON frames.id = frame_id
    WHERE position = 0 AND rejected IS NULL`,
)
// max() beside a bare column: SQLite takes that column from the row of the maximum.
const provenBy = query<{ id: number; program: string | null }>(
  `SELECT master_id AS id, frames.program, max(checks.at) FROM checks JOIN files ON files.path = checks.path
     JOIN frames ON frames.id = files.frame_id
    WHERE holds = 1 AND undone_at IS NULL GROUP BY master_id`,
)
const newestRefuting = (which: string) =>
  `SELECT master_id AS id, max(at) AS at FROM checks WHERE holds = 0 AND undone_at IS NULL${which} GROUP BY master_id`
const refuting = query<{ id: number; at: string }>(newestRefuting(''))
const refutingOne = query<{ id: number; at: string }, [number]>(newestRefuting(' AND master_id = ?'))
/** A check frame that did not hold counts until a later one does. */
const refutedAt = ({ provenAt }: Pick<Master, 'provenAt'>, at: string | undefined): string | null =>
  at !== undefined && at > (provenAt ?? '') ? at : null
const programs = (rows: readonly { id: number; program: string | null }[]) =>
  new Map(rows.map(({ id, program }) => [id, program]))

/** Every master, retired and damaged ones included. `now` gives their ages. */
export function allMasters(db: Readable, now: Date): Master[] {
  const [capturedWith, provenWith] = [programs(captured.all(db)), programs(provenBy.all(db))]
  const refutedBy = new Map(refuting.all(db).map(({ id, at }) => [id, at]))
  const rows = new Map(all.all(db).map((row) => [row.id, row]))
  const sources = Map.groupBy(allSources.all(db), ({ id }) => id)
  return order.all(db).flatMap(({ id }) => {
    const row = rows.get(id)
    if (!row) return []
    const master = toMaster(row, now)
    master.sources = sources.get(id)?.map(({ path }) => path) ?? []
    master.capturedWith = capturedWith.get(id) ?? null
    master.provenWith = provenWith.get(id) ?? null
    master.refutedAt = refutedAt(master, refutedBy.get(id))
    return master
  })
}
export const masterById = (db: Readable, id: number, now: Date): Master | undefined => {
  const row = byId.one(db, id)
  if (!row) return undefined
  const master = toMaster(row, now)
  master.refutedAt = refutedAt(master, refutingOne.one(db, id)?.at)
  return master
}

const DAY_MS = 86_400_000

/** Whole days since a master was made; null where nobody knows when. */
export function ageDays(madeAt: string | null, now: Date): number | null {
  const ageMs = madeAt === null ? NaN : now.getTime() - Date.parse(madeAt)
  return Number.isNaN(ageMs) ? null : Math.max(0, Math.floor(ageMs / DAY_MS))
}

/** The row itself becomes the master. */
function toMaster(row: Row, now: Date): Master {
  const master = row as unknown as Master
  master.ageDays = ageDays(row.madeAt, now)
  master.figures = row.figures === null ? null : (JSON.parse(row.figures) as Master['figures'])
  master.sources = row.sources === null ? [] : (JSON.parse(row.sources) as string[])
  return master
}

/** A master as the table and the grid of the shelf show it. */
export interface MasterLine extends Pick<
  Settings,
  | 'camera'
  | 'body'
  | 'filter'
  | 'telescope'
  | 'train'
  | 'rig'
  | 'binning'
  | 'readout'
  | 'gain'
  | 'offset'
  | 'width'
  | 'height'
  | 'setTempC'
  | 'sensorTempC'
  | 'exposureS'
> {
  id: number
  kind: Master['kind']
  state: Master['state']
  program: string | null
  frames: number | null
  madeAt: string | null
  provenAt: string | null
  noise: number | null
  confirmed: number
}
const lines = query<MasterLine, [number, number]>(
  `SELECT id, kind, state, camera, body, filter, telescope, train, rig, binning, readout, gain, "offset", width, height,
     set_temp_c AS setTempC, sensor_temp_c AS sensorTempC, exposure_s AS exposureS, program, frames, made_at AS madeAt,
     proven_at AS provenAt, json_extract(figures, '$.noise') AS noise,
     (scale IS NOT NULL AND subtracted IS NOT NULL) AS confirmed
     FROM masters WHERE id > ? ORDER BY id LIMIT ?`,
)
/** At most so many masters with higher ids, by id. */
export const mastersAfter = (db: Readable, id: number, most: number): MasterLine[] => lines.all(db, id, most)

const total = query<{ n: number }>('SELECT count(*) AS n FROM masters')
export const countMasters = (db: Readable): number => total.one(db)!.n

const bySha = query<{ id: number }, [string]>('SELECT id FROM masters WHERE sha256 = ?')
/** The master that these very bytes are, wherever they stand. */
export const masterIdByHash = (db: Readable, sha256: string): number | undefined => bySha.one(db, sha256)?.id

/** What checking a master's file needs. */
export interface MasterFile {
  id: number
  path: string
  size: number
  sha256: string
  state: Master['state']
}
const files = query<MasterFile>('SELECT id, path, size, sha256, state FROM masters ORDER BY id')
export const masterFiles = (db: Readable): MasterFile[] => files.all(db)

const retire = command<[string, number]>(
  "UPDATE masters SET state = 'retired', retired_at = ? WHERE id = ? AND state = 'ready'",
)
/** Takes a master out of matching; its file stays. */
export const retireMaster = (db: Writable, id: number, at: string): boolean => retire(db, at, id).changes === 1

const restore = command<[number]>("UPDATE masters SET state = 'ready', retired_at = NULL, problem = NULL WHERE id = ?")
export const restoreMaster = (db: Writable, id: number): boolean => restore(db, id).changes === 1

const damaged = command<[string, string, number]>(
  "UPDATE masters SET state = 'damaged', problem = ?, verified_at = ? WHERE id = ?",
)
/** `problem`: one sentence. */
export const markDamaged = (db: Writable, id: number, problem: string, at: string): void =>
  void damaged(db, problem, at, id)

// A retired master whose file was damaged and is whole again comes back as retired.
const sound = command<[string, number]>(
  `UPDATE masters SET state = CASE WHEN state != 'damaged' THEN state WHEN retired_at IS NULL THEN 'ready' ELSE 'retired' END,
     problem = NULL, verified_at = ? WHERE id = ?`,
)
export const markSound = (db: Writable, id: number, at: string): void => void sound(db, at, id)

const path = command<[string, number]>('UPDATE masters SET path = ? WHERE id = ?')
export const moveMaster = (db: Writable, id: number, to: string): void => void path(db, to, id)

const figures = command<[string | null, number]>('UPDATE masters SET figures = ? WHERE id = ?')
export const setMasterFigures = (db: Writable, id: number, value: Master['figures']): void =>
  void figures(db, value && JSON.stringify(value), id)

const proven = command<[string | null, number]>('UPDATE masters SET proven_at = ? WHERE id = ?')
/** @returns false where there is no such master */
export const setProven = (db: Writable, id: number, at: string | null): boolean => proven(db, at, id).changes === 1

// Figures are in ADU: of another scale they are to be had anew.
const tell = command<Named>(
  `UPDATE masters SET figures = iif(built = 0 AND @scale IS NOT NULL AND scale IS NOT @scale, NULL, figures),
     scale = coalesce(@scale, scale), subtracted = coalesce(@subtracted, subtracted), frames = coalesce(@frames, frames)
   WHERE id = @id`,
)
/** What a person says of a master whose scale, history or number of frames was unknown. */
export const tellMaster = (
  db: Writable,
  id: number,
  { scale = null, subtracted = null, frames = null }: Partial<Pick<Master, 'scale' | 'subtracted' | 'frames'>>,
): void => void tell(db, { id, scale, subtracted, frames })

type Told = Pick<Master, 'path' | 'scale' | 'subtracted' | 'frames'>
const told = command<[Named[0]]>(
  `UPDATE masters SET figures = iif(built = 0 AND scale IS NOT @scale, NULL, figures), path = @path, scale = @scale,
     subtracted = @subtracted, frames = @frames WHERE id = @id`,
)
/** As it was told before, unknowns included. @returns false where there is no such master */
export const setTold = (db: Writable, id: number, { path, scale, subtracted, frames }: Told): boolean =>
  told(db, { id, path, scale, subtracted, frames }).changes === 1

const used = query<{ frameId: number }>(
  `SELECT frame_id AS frameId FROM master_sources JOIN masters ON masters.id = master_id
    WHERE frame_id IS NOT NULL AND state != 'damaged'`,
)
/** Frames that a master of the library has taken in. */
export const builtFrameIds = (db: Readable): Set<number> => new Set(used.all(db).map((row) => row.frameId))

const settings = command<(string | number | Buffer | null)[]>(
  `UPDATE masters SET ${assignments(Object.keys(settingForms))} WHERE id = ?`,
)
/** The frames that it was made from are understood differently now. */
export const setMasterSettings = (db: Writable, id: number, value: Settings): void =>
  void settings(db, ...toStored(settingForms, value), id)

const epoch = command<[string | null, number]>('UPDATE masters SET epoch = ? WHERE id = ?')
export const setMasterEpoch = (db: Writable, id: number, value: string | null): void => void epoch(db, value, id)

const light = command<[string | null, number]>('UPDATE masters SET light_source = ? WHERE id = ?')
export const setMasterLightSource = (db: Writable, id: number, value: LightSource | null): void =>
  void light(db, value, id)

const rename = command<[string, string]>('UPDATE masters SET rig = ? WHERE rig = ?')
/** The rig goes by another name now. */
export const renameRigOfMasters = (db: Writable, from: string, to: string): void => void rename(db, to, from)

const checked = query<{ n: number }, [number]>('SELECT count(*) AS n FROM checks WHERE master_id = ?')
const forgetSources = command<[number]>('DELETE FROM master_sources WHERE master_id = ?')
const forget = command<[number]>('DELETE FROM masters WHERE id = ?')
/** Out of the library as if it had never been added; its file stays. False where checks speak of it. */
export const forgetMaster = (db: Writable, id: number): boolean =>
  immediately(db, () => {
    if (checked.one(db, id)!.n > 0) return false
    forgetSources(db, id)
    forgetMasterCards(db, id)
    return forget(db, id).changes === 1
  })
