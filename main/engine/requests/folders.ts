import { accessSync, constants, readdirSync, statSync } from 'node:fs'
import { homedir } from 'node:os'
import { dirname, join, resolve, sep } from 'node:path'
import { Refusal, type Answer, type Handlers } from '../../contract/index.ts'
import { immediately } from '../../../db/handle.ts'
import { countFilesBelow } from '../../../db/tables/files.ts'
import { allFolders, folderById, putFolder, setPolling, stopWatching, type Folder } from '../../../db/tables/folders.ts'
import { rigSpans } from '../../../db/tables/rigs.ts'
import { instant } from '../clock.ts'
import type { Core } from '../core.ts'
import { isFitsName } from '../../watch/names.ts'
import { addMasters } from '../library/add-masters.ts'
import { describeAgain } from '../rigs/describe-again.ts'
import { makeRigOf } from '../rigs/tell-rig.ts'

type Names = 'folders' | 'watchFolder' | 'pollFolder' | 'unwatchFolder' | 'browseFolders' | 'playDemo'
type FolderAnswer = Answer<'watchFolder'>['folder']

/**
 * Writes a simulated night live below a folder, and masters from earlier nights; resolves once its first frame is there.
 * Brought by the host: the engine does not know the demo.
 */
export type PlayDemo = (
  below: string,
  options: { speed: number; night: string; seed: number },
  signal: AbortSignal,
) => Promise<{ capture: string; masters: string[] }>

export const folderHandlers = (core: Core, playDemo: PlayDemo | undefined): Pick<Handlers, Names> => ({
  folders: () => ({
    folders: allFolders(core.db)
      .filter((folder) => folder.watched)
      .map((folder) => answerOf(core, folder)),
  }),
  watchFolder: async ({ path, polling }) => ({ folder: await watch(core, resolve(path), polling) }),
  pollFolder: async ({ id, polling }) => {
    if (!folderById(core.db, id)?.watched) throw new Refusal(`There is no watched folder ${id}.`)
    setPolling(core.db, id, polling)
    await core.watchAgain()
    core.changed('folders')
    return { folder: answerOf(core, folderById(core.db, id)!) }
  },
  unwatchFolder: ({ id }) => {
    if (!stopWatching(core.db, id)) throw new Refusal(`There is no watched folder ${id}.`)
    void core.watchAgain()
    core.changed('folders', 'night')
    return {}
  },
  browseFolders: ({ path }) => browse(resolve(path ?? homedir())),
  playDemo: async ({ speed }) => {
    if (!playDemo)
      throw new Refusal('The demo night cannot be played from here: start it with "nightshelf demo DIR --live".')
    // Another night each time: the same one again would be nothing new to the log.
    const seed = Math.floor(core.clock.now().getTime() / 1000) % 1_000_000
    const below = join(core.dataDir, 'demo', String(seed))
    const { capture, masters } = await playDemo(below, { speed, seed, night: core.nights.current() }, core.closing)
    await addMasters(core, { paths: masters, incoming: [], answers: {}, copy: false })
    return { folder: await watch(core, capture) }
  },
})

async function watch(core: Core, path: string, polling?: boolean | null): Promise<FolderAnswer> {
  try {
    if (!statSync(path).isDirectory()) throw new Refusal(`"${path}" is a file: choose the folder that it is in.`)
    accessSync(path, constants.R_OK | constants.X_OK)
  } catch (error) {
    throw refusalOf(path, error)
  }
  if (core.dataDir === path || core.dataDir.startsWith(path + sep))
    throw new Refusal(`"${path}" holds Nightshelf's own data: choose the folder that the camera writes to.`)
  const id = immediately(core.db, () => {
    makeRigOf(core, path)
    const id = putFolder(core.db, path, true, instant(core.clock))
    if (polling !== undefined) setPolling(core.db, id, polling)
    return id
  })
  void core.watchAgain()
  core.changed('folders', 'night')
  // What was logged from it before is this rig's from now on.
  await describeAgain(core)
  return answerOf(core, folderById(core.db, id)!)
}

function answerOf(core: Core, { id, path, polling: pollingChosen }: Folder): FolderAnswer {
  const watched = core.watches().find((one) => one.path === path)
  const rig = rigSpans(core.db).findLast((span) => span.folder === path)?.rig ?? null
  return {
    id,
    path,
    rig,
    reachable: (watched?.lostSince ?? null) === null,
    frames: countFilesBelow(core.db, path, sep as '/' | '\\'),
    polling: watched?.polling ?? false,
    pollingChosen,
    note: watched?.note ?? null,
  }
}

/** The folders in a folder, each with its number of FITS files; hidden ones are left out. */
function browse(path: string): Answer<'browseFolders'> {
  try {
    const folders = readdirSync(path, { withFileTypes: true })
      .filter((entry) => !entry.name.startsWith('.') && isFolder(join(path, entry.name)))
      .map(({ name }) => ({ name, fits: countFits(join(path, name)) }))
      .sort((a, b) => a.name.localeCompare(b.name))
    const parent = dirname(path)
    return { path, parent: parent === path ? null : parent, folders }
  } catch (error) {
    throw refusalOf(path, error)
  }
}

function isFolder(path: string): boolean {
  try {
    return statSync(path).isDirectory()
  } catch {
    return false
  }
}

function countFits(path: string): number {
  try {
    return readdirSync(path).filter(isFitsName).length
  } catch {
    return 0
  }
}

function refusalOf(path: string, error: unknown): unknown {
  if (error instanceof Refusal) return error
  const { code } = error as NodeJS.ErrnoException
  if (code === 'ENOENT')
    return new Refusal(`"${path}" does not exist: check its name, and whether its disk is connected.`)
  if (code === 'ENOTDIR') return new Refusal(`"${path}" is not a folder.`)
  if (code === 'EACCES' || code === 'EPERM')
    return new Refusal(`"${path}" may not be read: give your account the right to read it.`)
  return error
}
