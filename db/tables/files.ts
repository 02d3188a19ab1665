import { command, query, type Readable, type Writable } from '../handle.ts'

/** A path that is known to hold a frame's bytes, with its stat as it was when they were read. */
export interface KnownFile {
  path: string
  frameId: number
  size: number
  modifiedMs: number
  changedMs: number
  inode: number
}

const fields = 'path, frame_id AS frameId, size, modified_ms AS modifiedMs, changed_ms AS changedMs, inode'

const one = query<KnownFile, [string]>(`SELECT ${fields} FROM files WHERE path = ?`)
export const fileAt = (db: Readable, path: string): KnownFile | undefined => one.one(db, path)

const ofFrame = query<KnownFile, [number]>(`SELECT ${fields} FROM files WHERE frame_id = ? ORDER BY path`)
/** Every known copy of a frame. */
export const filesOfFrame = (db: Readable, frameId: number): KnownFile[] => ofFrame.all(db, frameId)

const below = query<KnownFile, [string, string]>(
  `SELECT ${fields} FROM files WHERE path >= ? AND path < ? ORDER BY path`,
)
/** Every known file below a folder, in path order. The character after the separator ends the range. */
export const filesBelow = (db: Readable, folder: string, separator: Separator): KnownFile[] =>
  below.all(db, ...rangeOf(folder, separator))

const next = query<{ path: string }, [string, string, string, number]>(
  'SELECT path FROM files WHERE path >= ? AND path > ? AND path < ? ORDER BY path LIMIT ?',
)
/** The next `most` known paths below a folder after this one ('' to begin with), in path order. */
export function pathsBelow(db: Readable, folder: string, separator: Separator, after: string, most: number): string[] {
  const [from, to] = rangeOf(folder, separator)
  return next.all(db, from, after, to, most).map(({ path }) => path)
}

const counted = query<{ n: number }, [string, string]>(
  'SELECT count(DISTINCT frame_id) AS n FROM files WHERE path >= ? AND path < ?',
)
/** How many frames stand below a folder. */
export const countFilesBelow = (db: Readable, folder: string, separator: Separator): number =>
  counted.one(db, ...rangeOf(folder, separator))?.n ?? 0

type Separator = '/' | '\\'

function rangeOf(folder: string, separator: Separator): [from: string, to: string] {
  const base = folder.endsWith(separator) ? folder.slice(0, -1) : folder
  return [base + separator, base + String.fromCharCode(separator.charCodeAt(0) + 1)]
}

const put = command<[string, number, number, number, number, number, string]>(
  `INSERT INTO files (path, frame_id, size, modified_ms, changed_ms, inode, seen_at) VALUES (?, ?, ?, ?, ?, ?, ?)
   ON CONFLICT (path) DO UPDATE SET frame_id = excluded.frame_id, size = excluded.size,
     modified_ms = excluded.modified_ms, changed_ms = excluded.changed_ms, inode = excluded.inode, seen_at = excluded.seen_at`,
)
/** This path holds these bytes now, whatever it held before. */
export const putFile = (db: Writable, file: KnownFile, at: string): void =>
  void put(db, file.path, file.frameId, file.size, file.modifiedMs, file.changedMs, file.inode, at)

const remove = command<[string]>('DELETE FROM files WHERE path = ?')
export const forgetFile = (db: Writable, path: string): void => void remove(db, path)
