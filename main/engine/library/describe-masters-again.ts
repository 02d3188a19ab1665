import { setImmediate as breathe } from 'node:timers/promises'
import type { Master, MasterAnswers, Settings } from '../../contract/index.ts'
import { FitsError } from '../../fits/error.ts'
import { parseHeader } from '../../fits/header.ts'
import type { FrameFacts } from '../../frame/facts.ts'
import { keyValue } from '../../frame/keys.ts'
import { immediately, type Writable } from '../../../db/handle.ts'
import {
  cardsOfMaster,
  mastersWithCards,
  mastersWithoutCards,
  putMasterCards,
  type MasterCards,
} from '../../../db/tables/master-cards.ts'
import { masterById, setMasterLightSource, setMasterSettings } from '../../../db/tables/masters.ts'
import type { Core } from '../core.ts'
import type { Describer } from '../ingest/describer.ts'
import { readFrameFile } from '../ingest/read.ts'
import { tell } from './describe-master.ts'

/** Others have their turn after so long. */
const TURN_MS = 25

/**
 * Describes masters made elsewhere again, from their kept headers and what a person told of them.
 * @param isAffected whether the master that stands at a path may be told differently now
 * @returns how many are
 */
export async function describeMastersAgain(
  { db, closing }: Core,
  describe: Describer,
  isAffected: (path: string) => boolean,
): Promise<number> {
  let changed = 0
  const ids = mastersWithCards(db).flatMap(({ id, path }) => (isAffected(path) ? [id] : []))
  await inTurns(db, ids, closing, (id) => {
    if (describeMaster(db, id, describe)) changed++
  })
  return changed
}

/** Describes one master again; inside the caller's transaction. @returns whether that makes a difference */
export function describeMaster(db: Writable, id: number, describe: Describer): boolean {
  const kept = cardsOfMaster(db, id)
  const master = masterById(db, id, new Date(0))
  if (!kept || !master) return false
  const facts = factsOf(kept, describe)
  const told = tell(facts, kept.answers)
  const light = master.kind === 'flat' ? (kept.answers.lightSource ?? facts.lightSource ?? null) : null
  const isOther = (Object.keys(told) as (keyof Settings)[]).some(
    (field) => keyValue(told[field]) !== keyValue(master[field]),
  )
  if (isOther) setMasterSettings(db, id, told)
  if (light !== master.lightSource) setMasterLightSource(db, id, light)
  return isOther || light !== master.lightSource
}

type Kept = Pick<MasterCards, 'path' | 'width' | 'height'> & { bytes: Uint8Array }

const factsOf = ({ path, width, height, bytes }: Kept, describe: Describer): FrameFacts =>
  describe(parseHeader(bytes), { path, root: null, mtimeMs: 0, width, height })

/**
 * Keeps the headers of masters that were taken in before headers were kept. What their rows say and their headers do not was told by
 * a person. A file that is not there is looked at again the next time.
 */
export async function keepMasterCards({ db, closing }: Core, describe: Describer): Promise<void> {
  await inTurns(db, mastersWithoutCards(db), closing, ({ id, path, file }) => {
    const master = masterById(db, id, new Date(0))
    const bytes = headerAt(file)
    if (!master || !bytes) return
    const facts = factsOf({ ...master, path, bytes }, describe)
    putMasterCards(db, id, bytes, toldOf(master, facts))
  })
}

function headerAt(path: string): Uint8Array | null {
  try {
    return readFrameFile(path).headerBytes
  } catch (error) {
    if (error instanceof FitsError || (error as NodeJS.ErrnoException).code) return null
    throw error
  }
}

function toldOf(master: Master, facts: FrameFacts): MasterAnswers {
  const answers: MasterAnswers = {}
  const { camera, gain, offset, exposureS, filter } = master
  const tempC = master.sensorTempC ?? master.setTempC
  if (facts.camera === null && camera !== null) answers.camera = camera
  if (facts.gain === null && gain !== null) answers.gain = gain
  if (facts.offset === null && offset !== null) answers.offset = offset
  if (facts.exposureS === null && exposureS !== null) answers.exposureS = exposureS
  if (facts.filter === null && filter !== null) answers.filter = filter
  if (facts.sensorTempC === null && facts.setTempC === null && tempC !== null) answers.tempC = tempC
  return answers
}

/** Does each in a transaction that lasts no longer than a turn. */
async function inTurns<T>(db: Writable, items: readonly T[], closing: AbortSignal, work: (item: T) => void) {
  for (let next = 0; next < items.length && !closing.aborted; await breathe())
    immediately(db, () => {
      const until = performance.now() + TURN_MS
      do work(items[next++])
      while (next < items.length && performance.now() < until)
    })
}
