import { statSync } from 'node:fs'
import { resolve } from 'node:path'
import { Refusal, type Frame } from '../../contract/index.ts'
import { FitsError } from '../../fits/error.ts'
import { fileAt } from '../../../db/tables/files.ts'
import { frameByFingerprint, frameById, groupTempC } from '../../../db/tables/frames.ts'
import { createDescriber } from '../ingest/describer.ts'
import { readFrameFile, type FrameReading } from '../ingest/read.ts'
import type { Core } from '../core.ts'

/** The one frame that is held against masters. It need not be logged. */
export interface Fresh {
  frame: Omit<Frame, 'id' | 'figures'>
  /** Its number in the log; null where it is not logged. */
  id: number | null
  /** Median temperature of its run, °C. */
  groupTempC: number | null
  /** When it was taken; now, where it has no date (UTC). */
  at: string
}

/** @throws Refusal for a frame that is not there, not whole, or a master */
export function freshFrame(core: Core, { frame: id, path }: { frame?: number; path?: string }): Fresh {
  const fresh = id === undefined ? named(core, resolve(path!)) : logged(core, id)
  if (fresh.frame.integrated) throw new Refusal(`${fresh.frame.path} is made of many frames: name one single frame.`)
  return fresh
}

function logged(core: Core, id: number): Fresh {
  const frame = frameById(core.db, id)
  if (!frame) throw new Refusal(`There is no frame ${id} in the log.`)
  if (frame.state === 'broken') throw new Refusal(`${frame.path} is broken: name a frame that is whole.`)
  if (!isThere(frame.path) || core.isOutOfReach(frame.path))
    throw new Refusal(`${frame.path} is not there at the moment: connect its disk, or look whether it was moved.`)
  const at = frame.startedAt ?? core.clock.now().toISOString()
  return { frame, id, groupTempC: groupTempC(core.db, frame), at }
}

function named(core: Core, path: string): Fresh {
  const reading = read(path)
  const known = fileAt(core.db, path)?.frameId ?? frameByFingerprint(core.db, reading.fingerprint)?.id ?? null
  const stored = known === null ? undefined : frameById(core.db, known)
  // The file that was named is read, wherever the log saw the same frame first.
  if (stored) return { ...logged(core, stored.id), frame: { ...stored, path } }
  const { image, header } = reading.info
  const facts = createDescriber(core.db, core.zone)(header, {
    path,
    root: null,
    mtimeMs: reading.stat.modifiedMs,
    width: image?.width ?? null,
    height: image?.height ?? null,
  })
  const at = facts.startedAt ?? core.clock.now().toISOString()
  return { frame: { ...facts, path } as Fresh['frame'], id: null, groupTempC: null, at }
}

function read(path: string): FrameReading {
  try {
    if (statSync(path).isDirectory()) throw new Refusal(`${path} is a folder: name one frame in it.`)
    const reading = readFrameFile(path)
    if (reading.problem !== null) throw new Refusal(`${path}: ${reading.problem}`)
    return reading
  } catch (error) {
    if (error instanceof FitsError) throw new Refusal(`${path}: ${error.message}`)
    const { code } = error as NodeJS.ErrnoException
    if (error instanceof Refusal || !code) throw error
    throw new Refusal(
      code === 'ENOENT' || code === 'ENOTDIR'
        ? `${path} is not there: check its name, and whether its disk is connected.`
        : `${path} cannot be read (${code}): check the disk, and your right to read it.`,
    )
  }
}

const isThere = (path: string) => statSync(path, { throwIfNoEntry: false })?.isFile() ?? false
