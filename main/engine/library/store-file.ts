import { mkdirSync, statSync } from 'node:fs'
import { copyFile, link, rename, rm } from 'node:fs/promises'
import { basename, extname, join } from 'node:path'
import { Refusal } from '../../contract/index.ts'
import { fsyncPath } from '../../../db/fsync.ts'
import { hashFile } from './hash-file.ts'

/**
 * Copies a file into a folder of ours so that it is there whole or not at all: under another name, flushed, read again and
 * compared, then named, and the folder flushed. A copy that a kill left unnamed is overwritten by the next try, one that it
 * left named is found again.
 * @param sha256 what the copy must be, hex
 * @returns path of the copy
 * @throws Refusal where the copy does not read back as the original; the system's error where the disk refuses
 */
export async function storeCopy(from: string, folder: string, sha256: string): Promise<string> {
  mkdirSync(folder, { recursive: true })
  const unfinished = join(folder, `${basename(from)}.${sha256.slice(0, 16)}.unfinished`)
  try {
    await copyFile(from, unfinished)
    fsyncPath(unfinished)
    if ((await hashFile(unfinished)).sha256 !== sha256)
      throw new Refusal(`The copy of "${from}" does not read back as it was: check the disk of the data folder.`)
    const path = await giveName(unfinished, folder, basename(from), sha256)
    fsyncPath(folder)
    return path
  } finally {
    await rm(unfinished, { force: true })
  }
}

/** The first name that is free, or that these very bytes have already: `dark.fits`, `dark-2.fits`, … */
async function giveName(unfinished: string, folder: string, name: string, sha256: string): Promise<string> {
  const extension = /\.fits\.fz$/i.exec(name)?.[0] ?? extname(name)
  const stem = name.slice(0, name.length - extension.length)
  for (let n = 1; ; n++) {
    const path = join(folder, `${stem}${n === 1 ? '' : `-${n}`}${extension}`)
    const there = statSync(path, { throwIfNoEntry: false })
    if (there?.isFile() && there.size === statSync(unfinished).size && (await hashFile(path)).sha256 === sha256)
      return path
    if (!there && (await nameUnlessTaken(unfinished, path))) return path
  }
}

/** A link never replaces what another process has named so meanwhile; where a disk knows no links, renaming must do. */
async function nameUnlessTaken(unfinished: string, path: string): Promise<boolean> {
  try {
    await link(unfinished, path)
    return true
  } catch (error) {
    const { code } = error as NodeJS.ErrnoException
    if (code === 'EEXIST') return false
    if (code !== 'EPERM' && code !== 'ENOTSUP' && code !== 'ENOSYS' && code !== 'EMLINK') throw error
    await rename(unfinished, path)
    return true
  }
}
