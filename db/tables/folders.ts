import { command, query, type Readable, type Writable } from '../handle.ts'

/** A folder that is or was watched, or that `log` was given. */
export interface Folder {
  id: number
  path: string
  watched: boolean
  /** Whether it is looked through every few seconds, as the user says; null: where its disk asks for it. */
  polling: boolean | null
}
type Row = Omit<Folder, 'watched' | 'polling'> & { watched: number; polling: number | null }
const toFolder = (row: Row): Folder => ({
  ...row,
  watched: row.watched === 1,
  polling: row.polling === null ? null : row.polling === 1,
})

const all = query<Row>('SELECT id, path, watched, polling FROM folders ORDER BY path')
export const allFolders = (db: Readable): Folder[] => all.all(db).map(toFolder)

const one = query<Row, [number]>('SELECT id, path, watched, polling FROM folders WHERE id = ?')
export const folderById = (db: Readable, id: number): Folder | undefined => {
  const row = one.one(db, id)
  return row && toFolder(row)
}

const put = command<[string, number, string]>(
  `INSERT INTO folders (path, watched, added_at) VALUES (?, ?, ?)
   ON CONFLICT (path) DO UPDATE SET watched = max(watched, excluded.watched)`,
)
const idOf = query<{ id: number }, [string]>('SELECT id FROM folders WHERE path = ?')
/** Remembers a folder; one that is watched already stays so. */
export function putFolder(db: Writable, path: string, watched: boolean, at: string): number {
  put(db, path, watched ? 1 : 0, at)
  return idOf.one(db, path)!.id
}

const poll = command<[number | null, number]>('UPDATE folders SET polling = ? WHERE id = ?')
/** @param polling null: as its disk asks */
export const setPolling = (db: Writable, id: number, polling: boolean | null): boolean =>
  poll(db, polling === null ? null : Number(polling), id).changes === 1

const stop = command<[number]>('UPDATE folders SET watched = 0 WHERE id = ?')
/** Watches it no more; what was logged from it stays. */
export const stopWatching = (db: Writable, id: number): boolean => stop(db, id).changes === 1
