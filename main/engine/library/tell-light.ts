import { Refusal, type LightSource, type Master } from '../../contract/index.ts'
import { immediately, type Writable } from '../../../db/handle.ts'
import { cardsOfMaster, putAnswersOfMaster } from '../../../db/tables/master-cards.ts'
import { masterById, setMasterLightSource } from '../../../db/tables/masters.ts'
import { sourcesOfMaster } from '../../../db/tables/raw-frames.ts'
import type { Core } from '../core.ts'
import { createDescriber } from '../ingest/describer.ts'
import { decide, saidLit } from '../rigs/decide.ts'
import { remember } from '../undo.ts'
import { describeMaster } from './describe-masters-again.ts'

/**
 * Keeps what a person says of what lit a flat master's frames. Of one whose frames are in the log, the frames are told, and it follows
 * them as always.
 * @throws Refusal where there is no such flat
 */
export function tellLight(core: Core, id: number, source: LightSource | null): { master: Master; step: number | null } {
  const { db, clock } = core
  const master = masterById(db, id, clock.now())
  if (!master) throw new Refusal(`There is no master ${id} in the library.`)
  if (master.kind !== 'flat') throw new Refusal(`Master ${id} is no flat: nothing lit it.`)
  const frames = sourcesOfMaster(db, id).flatMap((row) =>
    row.rejected === null && row.frameId !== null ? [row.frameId] : [],
  )
  const step = frames.length
    ? decide(core, frames, { lightSource: source }, saidLit(frames.length, source)).step
    : immediately(db, () => {
        const kept = cardsOfMaster(db, id)
        const before = (kept ? kept.answers.lightSource : master.lightSource) ?? null
        if (!putLight(core, id, source)) return null
        const text = source
          ? `Master ${id} was said to be lit by: ${source}.`
          : `What lit master ${id} is again unsaid.`
        return remember(core, text, { do: 'light', master: id, before })
      })
  if (step !== null) core.changed('library', 'night')
  return { master: masterById(db, id, clock.now())!, step }
}

/** Inside the caller's transaction. @returns whether it is told differently now */
export function putLight(
  { db, zone }: Pick<Core, 'zone'> & { db: Writable },
  id: number,
  source: LightSource | null,
): boolean {
  const kept = cardsOfMaster(db, id)
  const before = masterById(db, id, new Date(0))?.lightSource ?? null
  if (!kept) {
    setMasterLightSource(db, id, source)
    return before !== source
  }
  const { lightSource: _, ...others } = kept.answers
  putAnswersOfMaster(db, id, source === null ? others : { ...others, lightSource: source })
  return describeMaster(db, id, createDescriber(db, zone))
}
