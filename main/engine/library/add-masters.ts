import { basename, join, resolve } from 'node:path'
import { statSync } from 'node:fs'
import { Refusal, type Answer, type Asked, type Master, type MasterAnswers } from '../../contract/index.ts'
import { keyValue } from '../../frame/keys.ts'
import { createEpochs } from '../../match/epochs.ts'
import { immediately } from '../../../db/handle.ts'
import { frameByFingerprint, silentFields } from '../../../db/tables/frames.ts'
import {
  insertMaster,
  markSound,
  masterById,
  masterIdByHash,
  moveMaster,
  tellMaster,
} from '../../../db/tables/masters.ts'
import { putMasterCards } from '../../../db/tables/master-cards.ts'
import { trainChanges } from '../../../db/tables/train-changes.ts'
import { instant } from '../clock.ts'
import type { Core } from '../core.ts'
import { createDescriber } from '../ingest/describer.ts'
import { isAbsent } from '../ingest/place.ts'
import { walk } from '../ingest/walk.ts'
import { fileStat, isSame } from '../../watch/stat.ts'
import { readFrameFile, type FrameReading } from '../ingest/read.ts'
import { describeMaster, type MasterFacts } from './describe-master.ts'
import { hashFile } from './hash-file.ts'
import { dropIncoming, incomingPath } from './incoming.ts'
import { storeCopy } from './store-file.ts'
import { tellLight } from './tell-light.ts'
import { remember } from '../undo.ts'

type Added = Answer<'addMasters'>

/** Where copies and built masters stand, in the data folder. */
export const mastersFolder = (dataDir: string): string => join(dataDir, 'masters')

/** What is to be taken in: a file on the machine, or one that a page sent. */
interface Wanted {
  path: string
  incoming?: string
}

/**
 * Takes existing masters into the library, one after another: what is wrong with one keeps none of the others out. A folder stands for
 * the FITS files in it. What a page sent is copied, since nothing else keeps it.
 */
export async function addMasters(core: Core, { paths, incoming, answers, copy }: Asked<'addMasters'>): Promise<Added> {
  const outcome: Required<Added> = { added: [], already: [], refused: [] }
  const files = new Map(
    paths.flatMap((path) => filesAt(resolve(path), outcome.refused)).map((file) => [file.path, file]),
  )
  const wanted: Wanted[] = [...files.values(), ...sent(core, incoming, outcome)]
  for (const [done, one] of wanted.entries()) {
    if (wanted.length > 3) tellProgress(core, done, wanted.length)
    try {
      const result = await addOne(core, one.path, answers, copy || one.incoming !== undefined)
      if ('lacks' in result) outcome.refused.push({ ...one, ...result })
      else outcome[result.isNew ? 'added' : 'already'].push(result.master)
      // It is copied, or no answer could ever make a master of it; else it waits for what it lacks.
      const isDone = !('lacks' in result) || result.lacks.length === 0
      if (one.incoming && isDone) dropIncoming(core.dataDir, one.incoming)
    } catch (error) {
      outcome.refused.push({ ...one, reason: sentenceOf(error), lacks: [] })
      if (one.incoming && error instanceof Refusal) dropIncoming(core.dataDir, one.incoming)
    }
  }
  if (wanted.length > 3) tellProgress(core, wanted.length, wanted.length)
  if (outcome.added.length > 0) core.changed('library', 'night')
  return outcome
}

function filesAt(path: string, refused: Added['refused']): Wanted[] {
  if (!statSync(path, { throwIfNoEntry: false })?.isDirectory()) return [{ path }]
  const files: Wanted[] = []
  for (const found of walk(path))
    if ('file' in found) files.push({ path: found.file.path })
    else refused.push({ ...found.problem, lacks: [] })
  if (files.length === 0)
    refused.push({ path, reason: 'No FITS file is in this folder: choose the one with the masters.', lacks: [] })
  return files.sort((a, b) => a.path.localeCompare(b.path))
}

function sent({ dataDir }: Core, incoming: readonly string[], { refused }: Added): Wanted[] {
  return incoming.flatMap((name) => {
    try {
      return { path: incomingPath(dataDir, name), incoming: name }
    } catch (error) {
      refused.push({ path: '', reason: sentenceOf(error), lacks: [], incoming: name })
      return []
    }
  })
}

type One = { master: Master; isNew: boolean } | Pick<Added['refused'][number], 'lacks' | 'reason' | 'suggests'>

async function addOne(core: Core, path: string, answers: MasterAnswers, copy: boolean): Promise<One> {
  const reading = readFrameFile(path)
  if (reading.problem !== null) return { lacks: [], reason: reading.problem }
  const { sha256 } = await hashFile(path, core.closing)
  const known = masterIdByHash(core.db, sha256)
  if (known !== undefined) return meetAgain(core, known, path, answers)
  const described = describe(core, reading, answers)
  if ('lacks' in described) return described
  const path_ = copy ? await storeCopy(path, mastersFolder(core.dataDir), sha256) : path
  if (!isSame(reading.stat, fileStat(statSync(path))))
    return { lacks: [], reason: 'This file was changed while it was being read: add it again when it is whole.' }
  const id = insert(core, described.facts, answers, {
    path: path_,
    size: reading.stat.size,
    sha256,
    copiedFrom: copy ? path : null,
    headerBytes: reading.headerBytes,
  })
  return { master: masterById(core.db, id, core.clock.now())!, isNew: true }
}

function describe(core: Core, reading: FrameReading, answers: MasterAnswers) {
  const { info, path, stat } = reading
  const facts = createDescriber(core.db, core.zone)(info.header, {
    path,
    root: null,
    mtimeMs: stat.modifiedMs,
    width: info.image?.width ?? null,
    height: info.image?.height ?? null,
  })
  const logged = frameByFingerprint(core.db, reading.fingerprint)
  if (logged && logged.integrated === 0 && answers.frames === undefined)
    return {
      lacks: ['frames'],
      reason:
        'This file was logged as a single raw frame: if it is a master all the same, say of how many frames it was made.',
    }
  const camera = facts.camera ?? answers.camera ?? null
  const silent = camera === null ? [] : silentFields(core.db, `${keyValue(camera)}\u001f`)
  return describeMaster(info, facts, answers, new Set(silent))
}

interface StoredFile {
  path: string
  size: number
  sha256: string
  copiedFrom: string | null
  headerBytes: Uint8Array
}

function insert(core: Core, facts: MasterFacts, answers: MasterAnswers, file: StoredFile): number {
  const { db, clock } = core
  const madeMs = facts.madeAt === null ? NaN : Date.parse(facts.madeAt)
  const epoch =
    facts.kind !== 'flat' || Number.isNaN(madeMs)
      ? null
      : createEpochs(trainChanges(db)).at(facts.rig, facts.filter, madeMs).id
  const { headerBytes, ...stored } = file
  const master = { ...facts, ...stored, epoch, provenAt: null, state: 'ready' as const, figures: null }
  return immediately(db, () => {
    const id = insertMaster(db, { ...master, built: false, sources: [] }, instant(clock))
    putMasterCards(db, id, headerBytes, answers)
    remember(core, `Master ${id} was taken in: ${basename(file.copiedFrom ?? file.path)}`, { do: 'add', master: id })
    return id
  })
}

/** The same bytes again: never a second master, but what is told now is kept, and a file that was moved is found again. */
function meetAgain(core: Core, id: number, path: string, answers: MasterAnswers): One {
  const { db, clock } = core
  const before = masterById(db, id, clock.now())!
  const { scale, subtracted, frames, lightSource } = answers
  const tells =
    (scale !== undefined && scale !== before.scale) ||
    (subtracted !== undefined && subtracted !== before.subtracted) ||
    (frames !== undefined && frames !== before.frames)
  const moved = before.path !== path && isAbsent(before.path)
  const mended = before.state === 'damaged' && (moved || before.path === path)
  immediately(db, () => {
    if (tells) tellMaster(db, id, { scale, subtracted, frames })
    if (moved) moveMaster(db, id, path)
    if (mended) markSound(db, id, instant(clock))
    if (tells || moved)
      remember(core, `Master ${id} was ${tells ? 'told more about' : 'found at another place'}: ${basename(path)}`, {
        do: 'tell',
        master: id,
        before: { path: before.path, scale: before.scale, subtracted: before.subtracted, frames: before.frames },
      })
  })
  const isLit = before.kind === 'flat' && lightSource !== undefined && tellLight(core, id, lightSource).step !== null
  return { master: masterById(db, id, clock.now())!, isNew: tells || moved || mended || isLit }
}

function tellProgress(core: Core, done: number, total: number): void {
  const state = done === total ? ('done' as const) : ('running' as const)
  core.tell({
    event: 'progress',
    job: 'add-masters',
    title: 'Adding masters',
    done,
    total,
    leftS: null,
    state,
    text: null,
  })
}

/** What the disk says, as a sentence; a fault of ours stays what it is. */
export function sentenceOf(error: unknown): string {
  if (error instanceof Refusal) return error.message
  const { code, syscall } = error as NodeJS.ErrnoException
  if (code === 'ENOSPC') return 'The disk of the data folder is full: make room and try again.'
  if (code === 'ENOENT') return 'This file is not there: check its name, and whether its disk is connected.'
  if (code === 'EACCES' || code === 'EPERM') return 'This file may not be read: give your account the right to read it.'
  if (code && syscall) return `This file cannot be read (${code}): check the disk or the connection to it.`
  throw error
}
