import type { Frame, Master, Settings } from '../../contract/index.ts'
import { keyValue } from '../../frame/keys.ts'
import { sharedLightSource } from '../../frame/light-source.ts'
import { createEpochs, epochIdOf } from '../../match/epochs.ts'
import { settingsOf } from '../../match/raw.ts'
import type { Writable } from '../../../db/handle.ts'
import { frameById } from '../../../db/tables/frames.ts'
import { allMasters, setMasterEpoch, setMasterLightSource, setMasterSettings } from '../../../db/tables/masters.ts'
import { sourcesOfMaster } from '../../../db/tables/raw-frames.ts'
import { trainChanges } from '../../../db/tables/train-changes.ts'

/** What a master takes over from its frames where they all say the same. Temperature, exposure and angle are medians. */
const common = [
  'camera',
  'body',
  'originX',
  'originY',
  'binning',
  'readout',
  'gain',
  'offset',
  'setTempC',
  'filter',
  'telescope',
  'focalMm',
  'cfa',
  'rowOrder',
  'rig',
  'train',
] as const satisfies readonly (keyof Settings)[]

/** Masters that were made from these frames say what the frames say now; then every flat's epoch is told anew. */
export function followFrames(db: Writable, changed: ReadonlySet<number>): void {
  if (changed.size > 0)
    for (const master of allMasters(db, new Date(0))) {
      const ids = sourcesOfMaster(db, master.id).flatMap((row) =>
        row.rejected === null && row.frameId !== null ? [row.frameId] : [],
      )
      if (!ids.some((id) => changed.has(id))) continue
      const frames = ids.flatMap((id) => frameById(db, id) ?? [])
      const told = follow(master, frames)
      if (told) setMasterSettings(db, master.id, told)
      if (master.kind === 'flat') setMasterLightSource(db, master.id, sharedLightSource(frames))
    }
  refreshEpochs(db)
}

function follow(master: Master, frames: readonly Frame[]): Settings | null {
  const told: Record<string, string | number | null> = settingsOf(master)
  let differs = false
  for (const field of common) {
    const value = frames[0]?.[field] ?? null
    if (keyValue(value) === keyValue(master[field])) continue
    if (frames.some((frame) => keyValue(frame[field]) !== keyValue(value))) continue
    told[field] = value
    differs = true
  }
  return differs ? (told as unknown as Settings) : null
}

/** Writes the epoch of each flat as the log of train changes has it now. */
export function refreshEpochs(db: Writable): void {
  const epochs = createEpochs(trainChanges(db))
  for (const master of allMasters(db, new Date(0))) {
    const epoch = epochIdOf(master, epochs)
    if (epoch !== master.epoch) setMasterEpoch(db, master.id, epoch)
  }
}
