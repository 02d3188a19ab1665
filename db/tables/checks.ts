import { command, immediately, query, type Readable, type Writable } from '../handle.ts'

/** A check flat, check dark or proof, as it came out. */
export interface CheckRecord {
  id: number
  kind: 'flat' | 'dark' | 'proof'
  masterId: number | null
  path: string
  /** When the check frame was taken (UTC). */
  at: string
  epoch: string | null
  holds: boolean | null
  /** JSON as the command line prints it. */
  result: string
  /** When a person took it back; null while it counts. */
  undoneAt: string | null
}
type Row = Omit<CheckRecord, 'holds'> & { holds: number | null }

const fields = 'id, kind, master_id AS masterId, path, at, epoch, holds, result, undone_at AS undoneAt'
const toRecord = (row: Row): CheckRecord => ({ ...row, holds: row.holds === null ? null : row.holds === 1 })

const all = query<Row>(`SELECT ${fields} FROM checks ORDER BY at, id`)
export const allChecks = (db: Readable): CheckRecord[] => all.all(db).map(toRecord)

const ofMaster = query<Row, [{ master: number }]>(
  `SELECT ${fields} FROM checks
    WHERE master_id = @master OR (kind = 'proof' AND json_extract(result, '$.flat') = @master) ORDER BY at, id`,
)
/** What was checked against a master, and proofs that used it as dark or flat; oldest first. */
export const checksOfMaster = (db: Readable, master: number): CheckRecord[] =>
  ofMaster.all(db, { master }).map(toRecord)

const insert = command<[Record<string, string | number | null>]>(
  `INSERT INTO checks (kind, master_id, path, at, epoch, holds, result)
   VALUES (@kind, @masterId, @path, @at, @epoch, @holds, @result)`,
)
/** @returns its id */
export const insertCheck = (db: Writable, check: Omit<CheckRecord, 'id' | 'undoneAt'>): number =>
  insert(db, { ...check, holds: check.holds === null ? null : check.holds ? 1 : 0 }).id

const takeBack = command<[string, number]>('UPDATE checks SET undone_at = ? WHERE id = ? AND undone_at IS NULL')
/** It stays in the record, and proves nothing any more. @returns false where there is none that counts */
export const undoCheck = (db: Writable, id: number, at: string): boolean => takeBack(db, at, id).changes === 1

// The newest row stays whatever it is, so that its id is never given again.
const surplus = query<{ id: number }, [number]>(
  `SELECT id FROM (
     SELECT id, master_id, holds, undone_at, row_number() OVER (PARTITION BY master_id ORDER BY at DESC, id DESC) AS place FROM checks)
   WHERE place > ? AND id < (SELECT max(id) FROM checks) AND NOT (holds IS 1 AND undone_at IS NULL)
     AND id NOT IN (SELECT json_extract(back, '$.check') FROM undo_steps WHERE json_extract(back, '$.check') IS NOT NULL)`,
)
const remove = command<[number]>('DELETE FROM checks WHERE id = ?')
/**
 * Forgets old checks and proofs: what stays are the newest `kept` of each master, everything that proves something, and what a
 * step that can be taken back speaks of. @returns how many went
 */
export const pruneChecks = (db: Writable, kept: number): number =>
  immediately(db, () => {
    const ids = surplus.all(db, kept)
    for (const { id } of ids) remove(db, id)
    return ids.length
  })

const ids = query<{ id: number }>('SELECT id FROM checks')
export const checkIds = (db: Readable): Set<number> => new Set(ids.all(db).map(({ id }) => id))
