import type { UndoStep } from '../../main/contract/index.ts'
import { command, query, type Readable, type Writable } from '../handle.ts'

/** A step with the way back, as JSON. */
export interface StoredStep extends UndoStep {
  back: string
}

const fields = 'id, at, text, back, undone_at AS undoneAt'
const all = query<StoredStep, [string]>(`SELECT ${fields} FROM undo_steps WHERE at >= ? ORDER BY id DESC`)
/** Newest first, from `since` (UTC) on. */
export const undoSteps = (db: Readable, since: string): StoredStep[] => all.all(db, since)

const insert = command<[string, string, string]>('INSERT INTO undo_steps (at, text, back) VALUES (?, ?, ?)')
const forget = command<[string]>('DELETE FROM undo_steps WHERE at < ?')
/** Remembers a step, and forgets those from before `since`. @returns its id */
export function putUndoStep(db: Writable, step: Pick<StoredStep, 'at' | 'text' | 'back'>, since: string): number {
  forget(db, since)
  return insert(db, step.at, step.text, step.back).id
}

const mark = command<[string, number]>('UPDATE undo_steps SET undone_at = ? WHERE id = ? AND undone_at IS NULL')
export const markUndone = (db: Writable, id: number, at: string): boolean => mark(db, at, id).changes === 1
