import { existsSync, rmSync, statSync } from 'node:fs'
import { basename, join } from 'node:path'
import type { Master } from '../../contract/index.ts'
import { FitsError } from '../../fits/error.ts'
import { readFitsInfo } from '../../fits/file.ts'
import { openImage } from '../../fits/image.ts'
import { sharedLightSource } from '../../frame/light-source.ts'
import type { Integration, Integrator } from '../../integrate/integrate.ts'
import type { MasterContent, MasterSource } from '../../integrate/master-file.ts'
import { defaultMethod, type Method } from '../../integrate/method.ts'
import { masterFileName } from '../../integrate/name.ts'
import { FileProblem } from '../../measure/crew.ts'
import { levelStep } from '../../measure/step.ts'
import { measuredOf } from '../../../db/tables/frame-figures.ts'
import { immediately, type Readable } from '../../../db/handle.ts'
import { insertMaster, masterById, masterFiles, type NewMaster, type NewSource } from '../../../db/tables/masters.ts'
import { instant } from '../clock.ts'
import type { Core } from '../core.ts'
import { mastersFolder } from '../library/add-masters.ts'
import { remember } from '../undo.ts'
import type { LeftOut, PlannedBuild } from './plan.ts'
import { PROGRAM } from './program.ts'

export interface BuildHow {
  signal: AbortSignal
  onProgress(done: number, total: number): void
}

/** A master in the library, or why there is none. */
export type BuiltOne =
  { master: Master; leftOut: LeftOut[]; thumbnail: Uint8Array | null } | { reason: string; leftOut: LeftOut[] }

/**
 * Integrates one group, writes the master and takes it into the library. A frame that turns out to be unreadable, or other than it was
 * when it was logged, is left out and named, and the rest is built without it, as long as enough are left.
 * @param dark pixels of the dark-flat master and its row, for flats
 */
export async function buildOne(
  core: Core,
  integrator: Integrator,
  plan: PlannedBuild,
  dark: Master | null,
  how: BuildHow,
): Promise<BuiltOne> {
  const leftOut = [...plan.leftOut]
  let frames = plan.frames
  const darkPixels = dark && readPixels(dark.path)
  for (;;) {
    if (frames.length < plan.need) return { reason: shortBy(leftOut, plan, frames.length), leftOut }
    const outcome = await tryBuild(core, integrator, { ...plan, frames }, darkPixels, how)
    if (!('bad' in outcome)) {
      const master = await keep(core, integrator, { ...plan, frames }, leftOut, outcome, dark)
      return { master, leftOut, thumbnail: outcome.thumbnail }
    }
    leftOut.push(...outcome.bad)
    const out = new Set(outcome.bad.map(({ frame }) => frame.id))
    frames = frames.filter((frame) => !out.has(frame.id))
  }
}

function shortBy(leftOut: readonly LeftOut[], plan: PlannedBuild, have: number): string {
  const last = leftOut.at(-1)
  const why = last ? ` (${basename(last.frame.path)}: ${last.reason.replace(/\.$/, '')})` : ''
  return `Only ${have} of ${plan.frames.length} frames can be used now${why}, and ${plan.need} are needed.`
}

type Tried = (Integration & { method: Method }) | { bad: LeftOut[] }

async function tryBuild(
  core: Core,
  integrator: Integrator,
  { frames, kind }: PlannedBuild,
  dark: SharedArrayBuffer | null,
  { signal, onProgress }: BuildHow,
): Promise<Tried> {
  try {
    const method = defaultMethod(frames.length, stepOf(frames[0].path))
    const integration = await integrator.integrate({
      paths: frames.map((frame) => frame.path),
      method,
      hash: true,
      figures: { cfa: frames[0].cfa },
      signal,
      onProgress,
      ...(kind === 'flat' && { flat: { dark } }),
    })
    const bad = frames.flatMap((frame, i): LeftOut[] => {
      const logged = measuredOf(core.db, frame.id)?.sha256?.toString('hex')
      return logged && logged !== integration.hashes![i]
        ? [{ frame, reason: 'The file is another than when it was logged: log it again.' }]
        : []
    })
    return bad.length ? { bad } : { ...integration, method }
  } catch (error) {
    const frame = error instanceof FileProblem ? frames.find(({ path }) => path === error.path) : undefined
    if (!frame || !(error instanceof FileProblem)) throw error
    return { bad: [{ frame, reason: error.message }] }
  }
}

function stepOf(path: string): number {
  try {
    return levelStep(path)
  } catch (error) {
    throw error instanceof FitsError ? new FileProblem(path, error.code, error.message) : error
  }
}

/** The dark flat's pixels in memory that every thread sees. */
export function readPixels(path: string): SharedArrayBuffer {
  using image = openImage(path)
  const pixels = new SharedArrayBuffer(image.width * image.height * 4)
  image.readRows(0, image.height, new Float32Array(pixels))
  return pixels
}

async function keep(
  core: Core,
  integrator: Integrator,
  plan: PlannedBuild,
  leftOut: readonly LeftOut[],
  integration: Integration & { method: Method },
  dark: Master | null,
): Promise<Master> {
  const { db, clock, dataDir } = core
  const content = contentOf(plan, leftOut, integration, dark, instant(clock))
  const folder = mastersFolder(dataDir)
  const name = masterFileName(plan.kind, plan.settings, plan.frames[0].night)
  removeOrphan(db, join(folder, name))
  const written = await integrator.write(folder, name, content)
  try {
    const at = instant(clock)
    const row: NewMaster = {
      ...plan.settings,
      ...written,
      kind: plan.kind,
      frames: plan.frames.length,
      madeAt: content.firstAt,
      provenAt: null,
      epoch: plan.epoch,
      state: 'ready',
      scale: 'adu',
      subtracted: content.subtracted,
      program: PROGRAM,
      lightSource: content.lightSource ?? null,
      figures: integration.figures,
      copiedFrom: null,
      built: true,
      sources: rowsOf(plan, leftOut, integration.hashes!),
    }
    const id = immediately(db, () => {
      const id = insertMaster(db, row, at)
      remember(core, `Master ${id} was built: ${basename(written.path)}`, { do: 'build', master: id })
      return id
    })
    return masterById(db, id, clock.now())!
  } catch (error) {
    rmSync(written.path, { force: true })
    throw error
  }
}

/** So old, a file without a row is no other process's that is about to be taken in. */
const ORPHAN_MS = 60_000

/** A master of ours that no row knows: its build was killed between writing and taking it in. It is made again now. */
function removeOrphan(db: Readable, path: string): void {
  if (!existsSync(path) || Date.now() - statSync(path).mtimeMs < ORPHAN_MS) return
  if (masterFiles(db).some((master) => master.path === path)) return
  const isOurs = readFitsInfo(path).header.text('SWCREATE')?.startsWith('Nightshelf') ?? false
  if (isOurs) rmSync(path)
}

function contentOf(
  plan: PlannedBuild,
  leftOut: readonly LeftOut[],
  { pixels, width, height, method, hashes, levels }: Integration & { method: Method },
  dark: Master | null,
  madeAt: string,
): MasterContent {
  const { frames } = plan
  const used = frames.map((frame, i): MasterSource => ({
    name: basename(frame.path),
    sha256: hashes![i],
    startedAt: frame.startedAt,
    scale: levels && levels.common / levels.means[i],
    leftOut: null,
  }))
  const unused = leftOut.map(({ frame, reason }): MasterSource => ({
    name: basename(frame.path),
    sha256: '',
    startedAt: frame.startedAt,
    scale: null,
    leftOut: reason,
  }))
  return {
    kind: plan.kind,
    settings: plan.settings,
    pixels,
    width,
    height,
    method,
    sources: [...used, ...unused],
    firstAt: frames[0].startedAt,
    lastAt: frames[frames.length - 1].startedAt,
    subtracted: dark ? (dark.kind === 'bias' ? 'bias' : 'darkFlat') : 'none',
    subtractedSha256: dark?.sha256 ?? null,
    electronsPerAdu: frames[0].electronsPerAdu,
    pixelUm: frames[0].pixelUm,
    lightSource: sharedLightSource(frames),
    madeAt,
    program: PROGRAM,
  }
}

function rowsOf(plan: PlannedBuild, leftOut: readonly LeftOut[], hashes: readonly string[]): NewSource[] {
  const used = plan.frames.map((frame, i) => ({
    path: frame.path,
    sha256: Buffer.from(hashes[i], 'hex'),
    frameId: frame.id,
    rejected: null,
  }))
  return [
    ...used,
    ...leftOut.map(({ frame, reason }) => ({ path: frame.path, sha256: null, frameId: frame.id, rejected: reason })),
  ]
}
