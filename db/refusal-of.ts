import { Refusal } from '../main/contract/index.ts'

const reasons: Record<string, string> = {
  SQLITE_NOTADB: 'is not a database (or is badly damaged); put a copy from the folder "backups" beside it in its place',
  SQLITE_CORRUPT: 'is damaged; put a copy from the folder "backups" beside it in its place',
  SQLITE_CANTOPEN: 'cannot be opened; check that the data folder exists and may be written',
  SQLITE_READONLY: 'may not be written; check the permissions of the data folder',
  SQLITE_FULL: 'cannot grow, because the disk is full; make room, and what is missing is logged then',
  SQLITE_IOERR:
    'cannot be read or written, because its disk fails; check the disk, and put the data folder elsewhere with --data',
  SQLITE_BUSY: 'is being written by another program for too long; wait for that to end and try again',
  EACCES: 'may not be written; check the permissions of the data folder',
  EPERM: 'may not be written; check the permissions of the data folder',
  EROFS: 'may not be written, the disk is read-only; choose another data folder with --data',
  ENOSPC: 'cannot be made, because the disk is full; make room and try again',
  ENOTDIR: 'cannot be made, because a file stands where its folder should be; choose another data folder with --data',
  EEXIST: 'cannot be made, because a file stands where its folder should be; choose another data folder with --data',
}

/** What SQLite and the disk say, as one sentence for a person; other errors are faults of ours and stay as they are. */
export function refusalOf(error: unknown, file: string): unknown {
  if (error instanceof Refusal) return error
  const code = String((error as { code?: unknown }).code ?? '')
  const known = Object.keys(reasons).find((reason) => code === reason || code.startsWith(`${reason}_`))
  return known ? new Refusal(`The database "${file}" ${reasons[known]}.`) : error
}

/** The same for a database that is open already: errors of other files are not its own. */
export const writeRefusalOf = (error: unknown, file: string): unknown =>
  String((error as { code?: unknown } | null)?.code).startsWith('SQLITE_') ? refusalOf(error, file) : error
