import { command, query, type Readable, type Writable } from '../handle.ts'

/** A folder that is or was watched, or that `log` was given. */
export interface Folder {
  id: number
  path: string
  watched: boolean
}
type Row = Omit<Folder, 'watched'> & { watched: number }
const toFolder = (row: Row): Folder => ({ ...row, watched: row.watched === 1 })

const all = query<Row>('SELECT id, path, watched FROM folders ORDER BY path')
export const allFolders = (db: Readable): Folder[] => all.all(db).map(toFolder)

const one = query<Row, [number]>('SELECT id, path, watched FROM folders WHERE id = ?')
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

const stop = command<[number]>('UPDATE folders SET watched = 0 WHERE id = ?')
/** Watches it no more; what was logged from it stays. */
export const stopWatching = (db: Writable, id: number): boolean => stop(db, id).changes === 1
