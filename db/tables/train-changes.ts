import type { TrainChange } from '../../main/contract/index.ts'
import { command, query, type Readable, type Writable } from '../handle.ts'

type Row = Omit<TrainChange, 'closes'> & { closes: number }

const all = query<Row>(
  'SELECT id, rig, scope, filter, at, text, closes, undone_at AS undoneAt FROM train_changes ORDER BY at, id',
)
/** Every train change, taken back ones included, in order of time. */
export const trainChanges = (db: Readable): TrainChange[] =>
  all.all(db).map((row) => ({ ...row, closes: row.closes === 1 }))

const insert = command<[Record<string, string | number | null>]>(
  `INSERT INTO train_changes (rig, scope, filter, at, text, closes, logged_at)
   VALUES (@rig, @scope, @filter, @at, @text, @closes, @loggedAt)`,
)
/** @returns its id */
export const logTrainChange = (db: Writable, change: Omit<TrainChange, 'id' | 'undoneAt'>, loggedAt: string): number =>
  insert(db, { ...change, closes: change.closes ? 1 : 0, loggedAt }).id

const undo = command<[string, number]>('UPDATE train_changes SET undone_at = ? WHERE id = ? AND undone_at IS NULL')
/** Takes a change back; it stays in the log. False if there is no such change, or it was taken back before. */
export const undoTrainChange = (db: Writable, id: number, at: string): boolean => undo(db, at, id).changes === 1

const redo = command<[number]>('UPDATE train_changes SET undone_at = NULL WHERE id = ?')
/** A change that was taken back holds again. */
export const redoTrainChange = (db: Writable, id: number): boolean => redo(db, id).changes === 1

const rename = command<[string, string]>('UPDATE train_changes SET rig = ? WHERE rig = ?')
/** The rig goes by another name now. */
export const renameRigOfChanges = (db: Writable, from: string, to: string): void => void rename(db, to, from)
