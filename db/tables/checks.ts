import { command, query, type Readable, type Writable } from '../handle.ts'

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
