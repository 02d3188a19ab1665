import type { Stats } from 'node:fs'

/** What tells that a file is as it was. Times in ms since 1970. */
export interface FileStat {
  size: number
  modifiedMs: number
  changedMs: number
  inode: number
}

export const fileStat = (stat: Stats): FileStat => ({
  size: stat.size,
  modifiedMs: stat.mtimeMs,
  changedMs: stat.ctimeMs,
  inode: stat.ino,
})

/** Same size, time of modification and inode. The time of the inode's own change does not count: a backup's chmod is no new frame. */
export const isSame = (a: FileStat, b: FileStat): boolean =>
  a.size === b.size && a.modifiedMs === b.modifiedMs && a.inode === b.inode
