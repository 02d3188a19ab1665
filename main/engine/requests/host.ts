import { existsSync } from 'node:fs'
import { Refusal, type Asked, type Answer, type Handlers } from '../../contract/index.ts'
import { readFitsInfo } from '../../fits/file.ts'
import { frameById } from '../../../db/tables/frames.ts'
import { masterById } from '../../../db/tables/masters.ts'
import type { Core } from '../core.ts'
import { plainCopy } from '../files/plain-copy.ts'
import { thumbnailPath } from '../files/thumbnails.ts'
import { checkPicture } from '../inspect/record.ts'

type Names = 'file' | 'place' | 'wake' | 'shutDown'

export const hostHandlers = (core: Core, close: () => Promise<void>): Pick<Handlers, Names> => ({
  file: (asked) => fileOf(core, asked),
  place: ({ of, id }) => ({ path: standing(of, id, storedOf(core, of, id)) }),
  wake: () => {
    core.lookAgain()
    return {}
  },
  shutDown: async () => {
    await close()
    return {}
  },
})

async function fileOf(core: Core, { of, id, view }: Asked<'file'>): Promise<Answer<'file'>> {
  if (of === 'check') return { path: checkPicture(core.dataDir, id, view), type: 'image/png' }
  const stored = storedOf(core, of, id)
  if (view !== 'pixels' && view !== 'thumbnail.png') throw new Refusal(`There is no such picture of ${of} ${id}.`)
  if (view === 'thumbnail.png') {
    const path = thumbnailPath(core.dataDir, of, id)
    if (!existsSync(path)) throw new Refusal(`The small picture of ${of} ${id} is not made yet: try again in a moment.`)
    return { path, type: 'image/png' }
  }
  const path = standing(of, id, stored)
  const compressed = readFitsInfo(path).imageCompression !== null
  return { path: compressed ? await plainCopy(core, of, id, path) : path, type: 'application/fits' }
}

/** @throws Refusal if there is none */
export function storedOf(core: Core, of: 'frame' | 'master', id: number): { path: string } {
  const stored = of === 'frame' ? frameById(core.db, id) : masterById(core.db, id, core.clock.now())
  if (!stored) throw new Refusal(`There is no ${of} ${id}.`)
  return stored
}

/** The path of a file that is there. @throws Refusal if it is not */
function standing(of: 'frame' | 'master', id: number, { path }: { path: string }): string {
  if (existsSync(path)) return path
  throw new Refusal(
    `The file of ${of} ${id} is not there at the moment: connect its disk, or look whether it was moved.`,
  )
}
