import type { Figures } from '../../main/contract/index.ts'
import { command, query, type Readable, type Writable } from '../handle.ts'

/** What the second lane found: hash of the whole file and figures of its pixels, or why they cannot be had. */
export interface Measured {
  sha256: Buffer | null
  figures: Figures | null
  problem: string | null
}

const put = command<[number, Buffer | null, string | null, string | null]>(
  'INSERT OR REPLACE INTO frame_figures (frame_id, sha256, figures, problem) VALUES (?, ?, ?, ?)',
)
export const putMeasured = (db: Writable, frameId: number, { sha256, figures, problem }: Measured): void =>
  void put(db, frameId, sha256, figures && JSON.stringify(figures), problem)

const get = query<{ sha256: Buffer | null; figures: string | null; problem: string | null }, [number]>(
  'SELECT sha256, figures, problem FROM frame_figures WHERE frame_id = ?',
)
export function measuredOf(db: Readable, frameId: number): Measured | undefined {
  const row = get.one(db, frameId)
  return row && { ...row, figures: row.figures === null ? null : (JSON.parse(row.figures) as Figures) }
}

const drop = command<[number]>('DELETE FROM frame_figures WHERE frame_id = ?')
/** The file was rewritten: what was measured is of bytes that are no more. */
export const forgetMeasured = (db: Writable, frameId: number): void => void drop(db, frameId)
