import { mkdirSync } from 'node:fs'
import { copyFile, open, rename, rm } from 'node:fs/promises'
import { basename, extname, join } from 'node:path'
import { Refusal } from '../../contract/index.ts'
import { fsyncPath } from '../../../db/fsync.ts'
import { hashFile } from './hash-file.ts'

/**
 * Copies a file into a folder of ours so that it is there whole or not at all: under another name, flushed, read again and
 * compared, then renamed, and the folder flushed.
 * @param sha256 what the copy must be, hex
 * @returns path of the copy
 * @throws Refusal where the copy does not read back as the original; the system's error where the disk refuses
 */
export async function storeCopy(from: string, folder: string, sha256: string): Promise<string> {
  mkdirSync(folder, { recursive: true })
  const { unfinished, final } = await claimName(folder, basename(from))
  try {
    await copyFile(from, unfinished)
    fsyncPath(unfinished)
    if ((await hashFile(unfinished)).sha256 !== sha256)
      throw new Refusal(`The copy of "${from}" does not read back as it was: check the disk of the data folder.`)
    await rename(unfinished, final)
    fsyncPath(folder)
    return final
  } catch (error) {
    await rm(final, { force: true })
    throw error
  } finally {
    await rm(unfinished, { force: true })
  }
}

/** A name that nothing has yet: `dark.fits`, `dark-2.fits`, … The empty file under it keeps it for us. */
async function claimName(folder: string, name: string): Promise<{ unfinished: string; final: string }> {
  const extension = /\.fits\.fz$/i.exec(name)?.[0] ?? extname(name)
  const stem = name.slice(0, name.length - extension.length)
  for (let n = 1; ; n++) {
    const final = join(folder, `${stem}${n === 1 ? '' : `-${n}`}${extension}`)
    try {
      await (await open(final, 'wx')).close()
      return { unfinished: `${final}.unfinished`, final }
    } catch (error) {
      if ((error as NodeJS.ErrnoException).code !== 'EEXIST') throw error
    }
  }
}
