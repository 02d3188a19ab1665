import { existsSync } from 'node:fs'
import type { Master } from '../../contract/index.ts'
import type { Figured, LookAsk } from '../../integrate/job.ts'
import { setMasterFigures } from '../../../db/tables/masters.ts'
import type { Core } from '../core.ts'
import { storeThumbnail, thumbnailPath } from '../files/thumbnails.ts'

/** Figures are in ADU: while nobody knows what a master's numbers mean, it has none. */
export const lacksFigures = ({ figures, scale }: Master): boolean => figures === null && scale !== null

/** What a look at a master's pixels is to bring; null where nothing is lacking. */
export function lookWanted({ dataDir }: Core, master: Master): LookAsk | null {
  const isLacking = lacksFigures(master) || !existsSync(thumbnailPath(dataDir, 'master', master.id))
  return isLacking ? lookAt(master) : null
}

export const lookAt = ({ kind, cfa, scale }: Master): LookAsk => ({
  cfa,
  flat: kind === 'flat',
  unit: scale === 'unit',
})

/** @returns whether it has figures now that it had not */
export function keepLook(core: Core, master: Master, looked: Figured): boolean {
  storeThumbnail(core.dataDir, 'master', master.id, looked.thumbnail)
  if (!lacksFigures(master)) return false
  setMasterFigures(core.db, master.id, looked.figures)
  return true
}
