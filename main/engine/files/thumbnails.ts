import { mkdirSync, renameSync, writeFileSync } from 'node:fs'
import { dirname, join } from 'node:path'

/** Small pictures stand in folders of a thousand: `thumbnails/frame/12/12345.png`. A cache: may be deleted at any time. */
export const thumbnailPath = (dataDir: string, of: 'frame' | 'master', id: number): string =>
  join(dataDir, 'thumbnails', of, String(Math.floor(id / 1000)), `${id}.png`)

/** Written whole or not at all. A picture that is lost is made again, so nothing waits for the disk here. */
export function storeThumbnail(dataDir: string, of: 'frame' | 'master', id: number, png: Uint8Array): void {
  const path = thumbnailPath(dataDir, of, id)
  mkdirSync(dirname(path), { recursive: true })
  writeFileSync(`${path}.unfinished`, png)
  renameSync(`${path}.unfinished`, path)
}
