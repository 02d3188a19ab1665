import { statSync } from 'node:fs'
import { basename, resolve } from 'node:path'
import { Refusal, type Asked } from '../../contract/index.ts'
import { immediately, type Readable, type Writable } from '../../../db/handle.ts'
import { renameRigOfFrames } from '../../../db/tables/rig-frames.ts'
import { renameRigOfMasters } from '../../../db/tables/masters.ts'
import { renameRig as renameRow, replaceRigSpans, rigSpans, type RigSpan } from '../../../db/tables/rigs.ts'
import { renameRigOfChanges } from '../../../db/tables/train-changes.ts'
import { instant } from '../clock.ts'
import type { Core } from '../core.ts'
import { remember } from '../undo.ts'
import { describeAgain, noteAffected } from './describe-again.ts'
import { spansOf, theRig } from './list.ts'
import { siteFields, spanOfFolder, tellSpans } from './spans.ts'

const foldersOf = (spans: readonly RigSpan[]) => spans.flatMap((span) => span.folder ?? [])
const same = (a: string | null, b: string | null) => a?.trim().toUpperCase() === b?.trim().toUpperCase()

/**
 * Says what a rig is, or makes it; frames that it speaks or spoke for are described again.
 * @returns its name as it is kept, and how many frames are told differently now
 */
export async function tellRig(core: Core, asked: Asked<'setRig'>): Promise<{ name: string; frames: number }> {
  const { db, clock } = core
  const { name: named, folder: givenFolder, site, since = null, ...words } = asked
  const now = instant(clock)
  if (since !== null && since > now) throw new Refusal('A rig is told as it stands or stood: its date lies ahead.')
  const folder = typeof givenFolder === 'string' ? aFolder(givenFolder) : givenFolder
  const name = immediately(db, () => {
    const before = spansOf(db, named)
    const name = before[0]?.rig ?? named
    const after = tellSpans(name, before, { ...words, folder, ...siteFields(site) }, since, now)
    if (foldersOf(after).length === 0)
      throw new Refusal(`Say which folder the frames of "${name}" come into: without one it speaks for no frame.`)
    refuseShared(db, name, after)
    putSpans(db, name, before, after)
    remember(core, before.length ? `What is told of rig ${name} was changed.` : `Rig ${name} was made.`, {
      do: 'rig',
      name,
      spans: before,
    })
    return name
  })
  core.changed('settings', 'folders', 'night')
  return { name, frames: await describeAgain(core) }
}

/** These spans instead of those; notes the frames that this may touch. Inside a transaction. */
export function putSpans(db: Writable, name: string, before: readonly RigSpan[], after: readonly RigSpan[]): void {
  replaceRigSpans(db, name, after)
  noteAffected(db, [...new Set([...foldersOf(before), ...foldersOf(after)])])
}

/** Two rigs may write into one folder if each is of a camera of its own. */
function refuseShared(db: Readable, name: string, spans: readonly RigSpan[]): void {
  const own = spans.at(-1)!
  const other = [...Map.groupBy(rigSpans(db), (span) => span.rig)]
    .map(([, others]) => others.at(-1)!)
    .find((span) => span.rig !== name && span.folder === own.folder && own.folder !== null)
  if (other && (own.camera === null || other.camera === null || same(own.camera, other.camera)))
    throw new Refusal(
      `"${own.folder}" is the folder of rig "${other.rig}" already: choose another, or tell both by their cameras.`,
    )
}

function aFolder(path: string): string {
  const folder = resolve(path)
  try {
    if (statSync(folder).isDirectory()) return folder
  } catch {
    throw new Refusal(`"${folder}" does not exist: check its name, and whether its disk is connected.`)
  }
  throw new Refusal(`"${folder}" is a file: choose the folder that it is in.`)
}

/** A watched folder is enough: it gets a rig of its name, unless one writes into it already. Inside a transaction. */
export function makeRigOf(core: Core, folder: string): void {
  const { db } = core
  const spans = rigSpans(db)
  if (spans.some((span) => span.folder === folder)) return
  const taken = (name: string) => spans.some((span) => same(span.rig, name))
  const base = basename(folder).slice(0, 50) || 'rig'
  let name = base
  for (let n = 2; taken(name); n++) name = `${base} ${n}`
  putSpans(db, name, [], [spanOfFolder(name, folder)])
}

/** Another name for the same rig, everywhere it stands. @returns the name as it is kept */
export function renameRig(core: Core, from: string, to: string): string {
  const { db } = core
  return immediately(db, () => {
    const name = theRig(db, from)
    if (name === to) return to
    const other = spansOf(db, to)[0]
    if (other && other.rig !== name) throw new Refusal(`There is a rig "${other.rig}" already: choose another name.`)
    rename(db, name, to)
    remember(core, `Rig ${name} was renamed ${to}.`, { do: 'rename', from: name, to })
    core.changed('settings', 'folders', 'night', 'library')
    return to
  })
}

export function rename(db: Writable, from: string, to: string): void {
  renameRow(db, from, to)
  renameRigOfFrames(db, from, to)
  renameRigOfMasters(db, from, to)
  renameRigOfChanges(db, from, to)
}

export async function removeRig(core: Core, named: string): Promise<number> {
  const { db } = core
  immediately(db, () => {
    const name = theRig(db, named)
    const before = spansOf(db, name)
    putSpans(db, name, before, [])
    remember(core, `Rig ${name} was removed.`, { do: 'rig', name, spans: before })
  })
  core.changed('settings', 'folders', 'night')
  return describeAgain(core)
}
