import { mkdirSync, renameSync, rmSync, writeFileSync } from 'node:fs'
import { dirname, join } from 'node:path'

/** Small pictures stand in folders of a thousand: `thumbnails/frame/12/12345.png`. A cache: may be deleted at any time. */
export const thumbnailPath = (dataDir: string, of: 'frame' | 'master', id: number): string =>
  join(dataDir, 'thumbnails', of, String(Math.floor(id / 1000)), `${id}.png`)

/** Written whole or not at all. Figures and hashes do not depend on it: where the disk has no room, there is no picture. */
export function storeThumbnail(dataDir: string, of: 'frame' | 'master', id: number, png: Uint8Array): void {
  const path = thumbnailPath(dataDir, of, id)
  try {
    mkdirSync(dirname(path), { recursive: true })
    writeFileSync(`${path}.unfinished`, png)
    renameSync(`${path}.unfinished`, path)
  } catch (error) {
    rmSync(`${path}.unfinished`, { force: true })
    if (!(error as NodeJS.ErrnoException).syscall) throw error
  }
}

/** What it belonged to is gone. */
export const dropThumbnail = (dataDir: string, of: 'frame' | 'master', id: number): void =>
  rmSync(thumbnailPath(dataDir, of, id), { force: true })
