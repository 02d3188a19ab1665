import { dirname } from 'node:path'
import type { Answer } from '../../contract/index.ts'
import { markDamaged, markSound, masterFiles, type MasterFile } from '../../../db/tables/masters.ts'
import { instant } from '../clock.ts'
import type { Core } from '../core.ts'
import { isAbsent } from '../ingest/place.ts'
import { hashFile } from './hash-file.ts'

type Verified = Answer<'verifyLibrary'>
/** `away`: its folder is not there, so its disk may just not be connected; that says nothing about the master. */
type Finding = { state: 'ok' } | { state: 'damaged' | 'away'; reason: string }

/** Reads every master's file (or those of `ids`) and compares its hash. One that is damaged stands outside matching until it is whole again. */
export async function verifyLibrary(core: Core, ids?: readonly number[]): Promise<Verified> {
  const files = masterFiles(core.db).filter(({ id }) => !ids || ids.includes(id))
  const outcome: Verified = { ok: 0, damaged: [] }
  let changed = false
  for (const [done, file] of files.entries()) {
    tellProgress(core, done, files.length)
    const finding = await examine(file, core.closing)
    if (finding.state === 'ok') outcome.ok++
    else outcome.damaged.push({ id: file.id, path: file.path, reason: finding.reason })
    if (finding.state === 'ok') markSound(core.db, file.id, instant(core.clock))
    if (finding.state === 'damaged') markDamaged(core.db, file.id, finding.reason, instant(core.clock))
    if (finding.state !== 'away') changed ||= (file.state === 'damaged') !== (finding.state === 'damaged')
  }
  tellProgress(core, files.length, files.length)
  if (changed) core.changed('library', 'night')
  return outcome
}

async function examine(file: MasterFile, signal: AbortSignal): Promise<Finding> {
  try {
    const { sha256 } = await hashFile(file.path, signal)
    if (sha256 === file.sha256) return { state: 'ok' }
    return {
      state: 'damaged',
      reason: 'This file is not what was added: put a sound copy in its place, or add this one anew.',
    }
  } catch (error) {
    signal.throwIfAborted()
    const { code } = error as NodeJS.ErrnoException
    if (isAbsent(dirname(file.path)))
      return { state: 'away', reason: 'Its folder is not there: connect its disk and verify again.' }
    if (code === 'ENOENT')
      return {
        state: 'damaged',
        reason: 'This file is not there any more: put it back, or add it again where it is now.',
      }
    return {
      state: 'damaged',
      reason: `This file cannot be read (${code}): check the disk, and put a sound copy in its place.`,
    }
  }
}

function tellProgress(core: Core, done: number, total: number): void {
  const state = done === total ? ('done' as const) : ('running' as const)
  core.tell({
    event: 'progress',
    job: 'verify',
    title: 'Verifying the library',
    done,
    total,
    leftS: null,
    state,
    text: null,
  })
}
