import { randomBytes } from 'node:crypto'
import { mkdirSync, readdirSync, rmSync, statSync } from 'node:fs'
import { join } from 'node:path'
import { Refusal } from '../../contract/index.ts'

/** A file that nobody added within a day is thrown away. */
const KEPT_MS = 24 * 3_600_000

const folderOf = (dataDir: string) => join(dataDir, 'incoming')

/** A folder of its own for one file that a page sends. @returns the name under which the page may add it, and where to write it */
export function newIncoming(dataDir: string, fileName: string): { incoming: string; path: string } {
  const incoming = randomBytes(18).toString('base64url')
  const folder = join(folderOf(dataDir), incoming)
  mkdirSync(folder, { recursive: true })
  return { incoming, path: join(folder, fileName) }
}

/** Where a file stands that was sent. @throws Refusal where it is not there any more */
export function incomingPath(dataDir: string, incoming: string): string {
  const folder = join(folderOf(dataDir), incoming)
  const [name] = namesIn(folder)
  if (name === undefined) throw new Refusal('This file was sent too long ago, or added already: send it once more.')
  return join(folder, name)
}

/** It was added (and copied), or never will be. */
export const dropIncoming = (dataDir: string, incoming: string): void =>
  rmSync(join(folderOf(dataDir), incoming), { recursive: true, force: true })

/** Bytes that wait there, after what nobody came back for is gone. */
export function sweepIncoming(dataDir: string, nowMs: number): number {
  let bytes = 0
  for (const incoming of namesIn(folderOf(dataDir))) {
    const folder = join(folderOf(dataDir), incoming)
    const stat = statSync(folder, { throwIfNoEntry: false })
    if (stat && nowMs - stat.mtimeMs > KEPT_MS) dropIncoming(dataDir, incoming)
    else for (const name of namesIn(folder)) bytes += statSync(join(folder, name), { throwIfNoEntry: false })?.size ?? 0
  }
  return bytes
}

function namesIn(folder: string): string[] {
  try {
    return readdirSync(folder)
  } catch (error) {
    const { code } = error as NodeJS.ErrnoException
    if (code === 'ENOENT' || code === 'ENOTDIR') return []
    throw error
  }
}
