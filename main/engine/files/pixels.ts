import { existsSync } from 'node:fs'
import { Refusal, type Frame, type Master } from '../../contract/index.ts'
import { readFitsInfo, type FitsInfo } from '../../fits/index.ts'
import { frameById } from '../../../db/tables/frames.ts'
import { masterById } from '../../../db/tables/masters.ts'
import type { Core } from '../core.ts'
import { plainCopy } from './plain-copy.ts'

export type Pictured = 'frame' | 'master'

/** @throws Refusal where there is none of that number */
export function storedOf(core: Core, of: Pictured, id: number): Frame | Master {
  const stored = of === 'frame' ? frameById(core.db, id) : masterById(core.db, id, core.clock.now())
  if (!stored) throw new Refusal(`There is no ${of} ${id}.`)
  return stored
}

/** The path of a file that is there. @throws Refusal if it is not */
export function standing(of: Pictured, id: number, { path }: { path: string }): string {
  if (existsSync(path)) return path
  throw new Refusal(
    `The file of ${of} ${id} is not there at the moment: connect its disk, or look whether it was moved.`,
  )
}

/**
 * The file whose bytes are the pixels: the frame's own where a window can decode it; else a plain copy in the cache.
 * @throws Refusal, FitsError
 */
export async function pixelFile(
  core: Core,
  { of, id }: { of: Pictured; id: number },
  stored: { path: string },
): Promise<{ path: string; own: FitsInfo }> {
  const path = standing(of, id, stored)
  const own = readFitsInfo(path)
  const plain = own.imageCompression === null && own.image?.bitpix !== 64
  return { path: plain ? path : await plainCopy(core, of, id, path), own }
}
