import { mkdirSync } from 'node:fs'
import { basename, join } from 'node:path'
import { LIGHT_SOURCES, Refusal, type Master } from '../../contract/index.ts'
import { readFitsInfo } from '../../fits/file.ts'
import type { Header } from '../../fits/header.ts'
import { LIGHT_SOURCE_KEYWORD } from '../../frame/light-source.ts'
import type { Integration, Integrator } from '../../integrate/integrate.ts'
import { readMethod, type MasterContent } from '../../integrate/master-file.ts'
import { FileProblem } from '../../measure/crew.ts'
import { frameById } from '../../../db/tables/frames.ts'
import { masterById, masterIdByHash } from '../../../db/tables/masters.ts'
import { sourcesOfMaster, type SourceRow } from '../../../db/tables/raw-frames.ts'
import type { Core } from '../core.ts'
import { mastersFolder } from '../library/add-masters.ts'
import { readPixels } from './build-one.ts'

/**
 * Integrates a master's sources again and compares the whole file, byte for byte, without keeping it.
 * @throws Refusal where it was not built here, or a source is not there any more
 */
export async function rebuild(
  core: Core,
  integrator: Integrator,
  id: number,
): Promise<{ same: boolean; text: string }> {
  const master = masterById(core.db, id, core.clock.now())
  if (!master) throw new Refusal(`There is no master ${id} in the library.`)
  const header = headerOf(master.path)
  const method = readMethod(header)
  const rows = sourcesOfMaster(core.db, id)
  const used = rows.filter((row) => row.rejected === null)
  if (!method || used.length === 0)
    throw new Refusal('Only masters that were built here know their frames and can be built again.')
  const paths = used.map((row) =>
    row.frameId === null ? row.path : (frameById(core.db, row.frameId)?.path ?? row.path),
  )
  const dark = header.text('SUBTRSHA')
  const integration = await integrate(core, integrator, paths, method, master, dark)
  const changed = used.findIndex((row, i) => row.sha256?.toString('hex') !== integration.hashes![i])
  if (changed >= 0)
    return { same: false, text: `${basename(paths[changed])} is not the frame any more that the master was made from.` }
  const content = contentOf(core, master, header, rows, integration, method)
  mkdirSync(mastersFolder(core.dataDir), { recursive: true })
  const scratch = join(mastersFolder(core.dataDir), `.${process.pid}-rebuild${id}.part`)
  const same = (await integrator.hash(content, scratch)) === master.sha256
  return {
    same,
    text: same
      ? `The same ${used.length} frames give the same bytes.`
      : 'The same frames give other bytes: another version of the program integrated them, or the file was changed.',
  }
}

function headerOf(path: string): Header {
  return readFitsInfo(path).header
}

async function integrate(
  core: Core,
  integrator: Integrator,
  paths: string[],
  method: MasterContent['method'],
  master: Master,
  darkSha256: string | null,
): Promise<Integration> {
  const flat =
    master.kind === 'flat' ? { flat: { dark: darkSha256 ? readPixels(pathOf(core, darkSha256)) : null } } : {}
  try {
    return await integrator.integrate({ paths, method, hash: true, signal: core.closing, ...flat })
  } catch (error) {
    if (!(error instanceof FileProblem)) throw error
    throw new Refusal(`${basename(error.path)}: ${error.message} The master itself needs no raw frames to stay.`)
  }
}

function pathOf(core: Core, sha256: string): string {
  const id = masterIdByHash(core.db, sha256)
  const master = id === undefined ? undefined : masterById(core.db, id, core.clock.now())
  if (!master) throw new Refusal('The dark flat that was subtracted is not in the library any more.')
  return master.path
}

function contentOf(
  core: Core,
  master: Master,
  header: Header,
  rows: SourceRow[],
  { pixels, width, height, levels, hashes }: Integration,
  method: MasterContent['method'],
): MasterContent {
  const date = (keyword: string) => {
    const text = header.text(keyword)
    return text === null ? null : `${text}Z`
  }
  let k = 0
  return {
    kind: master.kind,
    settings: master,
    pixels,
    width,
    height,
    method,
    sources: rows.map((row) => {
      const startedAt = row.frameId === null ? null : (frameById(core.db, row.frameId)?.startedAt ?? null)
      const common = { name: basename(row.path), startedAt, leftOut: row.rejected }
      if (row.rejected !== null) return { ...common, sha256: '', scale: null }
      const i = k++
      return { ...common, sha256: hashes![i], scale: levels && levels.common / levels.means[i] }
    }),
    firstAt: date('DATE-OBS'),
    lastAt: date('DATE-END'),
    subtracted: master.subtracted ?? 'none',
    subtractedSha256: header.text('SUBTRSHA'),
    electronsPerAdu: header.number('EGAIN'),
    pixelUm: header.number('XPIXSZ'),
    lightSource: LIGHT_SOURCES.find((source) => source === header.text(LIGHT_SOURCE_KEYWORD)) ?? null,
    madeAt: date('DATE') ?? '',
    program: header.text('SWCREATE') ?? '',
  }
}
