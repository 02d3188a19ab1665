import { closeSync, fsyncSync, openSync } from 'node:fs'

/** Makes sure that a file's bytes, or a folder's names, are on the disk. Windows cannot flush a folder, and needs not to. */
export function fsyncPath(path: string): void {
  let fd: number
  try {
    fd = openSync(path, process.platform === 'win32' ? 'r+' : 'r')
  } catch (error) {
    if (process.platform === 'win32') return
    throw error
  }
  try {
    fsyncSync(fd)
  } finally {
    closeSync(fd)
  }
}
