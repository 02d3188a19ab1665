import { existsSync } from 'node:fs'
import { Refusal, type Asked, type Answer, type Handlers } from '../../contract/index.ts'
import type { Core } from '../core.ts'
import { pixelFile, standing, storedOf } from '../files/pixels.ts'
import { thumbnailPath } from '../files/thumbnails.ts'
import { checkPicture } from '../inspect/record.ts'
import { writeNightLog } from '../night/night-log.ts'

type Names = 'file' | 'place' | 'writeNightLog' | 'wake' | 'shutDown'

export const hostHandlers = (core: Core, close: () => Promise<void>): Pick<Handlers, Names> => ({
  file: (asked) => fileOf(core, asked),
  place: ({ of, id }) => ({ path: standing(of, id, storedOf(core, of, id)) }),
  writeNightLog: ({ night = core.nights.usual(), path }) => writeNightLog(core, night, path),
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
  const { path } = await pixelFile(core, { of, id }, stored)
  return { path, type: 'application/fits' }
}
