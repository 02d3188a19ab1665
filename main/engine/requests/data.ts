import { isAbsolute, join, resolve } from 'node:path'
import { existsSync, rmSync } from 'node:fs'
import { Refusal, type Answer, type Handlers } from '../../contract/index.ts'
import type { Clearable, dataRequests } from '../../contract/requests/data.ts'
import { copyDatabase, describeBackups, KEPT } from '../../../db/backup.ts'
import { allFolders, stopWatching } from '../../../db/tables/folders.ts'
import { masterFiles, retireMaster } from '../../../db/tables/masters.ts'
import { dropSetting, setting } from '../../../db/tables/settings.ts'
import { backupsFolder, type BackupKeeper } from '../backups.ts'
import { isWithin } from '../../watch/listing.ts'
import { instant } from '../clock.ts'
import type { Core } from '../core.ts'
import { checkInThread } from '../data-folder/check-thread.ts'
import {
  CACHE,
  DATABASE,
  databaseSize,
  DEMO,
  freeBytes,
  removeOurs,
  sizeBelow,
  sizeOf,
} from '../data-folder/contents.ts'
import { followMoves } from '../data-folder/follow.ts'
import { MOVED_FROM } from '../data-folder/move.ts'
import type { Mover } from '../data-folder/mover.ts'
import { prepareRestore } from '../data-folder/restore.ts'

export const dataHandlers = (
  core: Core,
  backups: BackupKeeper,
  mover: Mover,
): Pick<Handlers, keyof typeof dataRequests> => {
  const { dataDir, clock } = core
  const folder = backupsFolder(dataDir)
  return {
    dataFolder: () => ({
      path: dataDir,
      bytes: {
        log: databaseSize(join(dataDir, DATABASE)),
        masters: sizeBelow(join(dataDir, 'masters')),
        backups: sizeBelow(folder),
        pictures: sizeBelow(join(dataDir, 'thumbnails')) + sizeBelow(join(dataDir, 'checks')),
      },
      freeBytes: freeBytes(dataDir),
      clearable: clearable(core),
      moving: mover.isMoving,
    }),
    clear: ({ what }) => clear(core, what),
    backups: () => ({
      folder,
      kept: KEPT,
      backups: describeBackups(folder).map(({ path: _, ...told }) => told),
    }),
    backUp: async ({ path }) => {
      const made = path === undefined ? await backups.backUpAsked() : await backUpTo(core, path)
      core.changed('settings')
      return { path: made, bytes: sizeOf(made) }
    },
    restoreBackup: async ({ name }) => {
      const chosen = describeBackups(folder).find((backup) => backup.name === name)
      if (!chosen) throw new Refusal(`There is no copy "${name}" any more: choose another one.`)
      mover.refuseWhileMoving()
      const prepared = await prepareRestore(dataDir, chosen.path, checkInThread)
      core.leaving.ask(() => {
        const said = { job: 'restore', title: 'Restoring the log' }
        try {
          prepared.putInPlace(clock.now())
          return { ...said, state: 'done', text: null }
        } catch (error) {
          return { ...said, state: 'failed', text: `${(error as Error).message} The log is as it was.` }
        }
      })
      return {}
    },
    moveDataFolder: ({ path }) => {
      if (!isAbsolute(path)) throw new Refusal('Name the whole path of the new folder, from the root of its disk.')
      mover.start(resolve(path))
      return {}
    },
    stopMove: async () => ({ stopped: await mover.stop() }),
  }
}

/** A copy wherever a person wants one. */
async function backUpTo({ db, closing }: Core, path: string): Promise<string> {
  const to = resolve(path)
  if (existsSync(to)) throw new Refusal(`"${to}" is there already: choose another name for the copy.`)
  try {
    await copyDatabase(db, to, { signal: closing, check: checkInThread })
  } catch (error) {
    if (error instanceof Refusal) throw error
    throw new Refusal(
      `The log could not be backed up to "${to}" (${(error as Error).message}): choose a folder that may be written.`,
    )
  }
  return to
}

const asides = (folder: string) => describeBackups(folder).filter((backup) => backup.aside)

function clearable(core: Core): Answer<'dataFolder'>['clearable'] {
  const { dataDir } = core
  const folder = backupsFolder(dataDir)
  const left = leftBehind(core)
  return [
    { what: 'cache' as const, path: join(dataDir, CACHE), bytes: sizeBelow(join(dataDir, CACHE)) },
    { what: 'aside' as const, path: folder, bytes: asides(folder).reduce((sum, { bytes }) => sum + bytes, 0) },
    ...(left === null
      ? []
      : [
          {
            what: 'leftBehind' as const,
            path: left,
            bytes:
              databaseSize(join(left, DATABASE)) + sizeBelow(join(left, 'masters')) + sizeBelow(join(left, 'backups')),
          },
        ]),
    { what: 'demo' as const, path: join(dataDir, DEMO), bytes: sizeBelow(join(dataDir, DEMO)) },
  ].filter(({ bytes }) => bytes > 0)
}

/** The folder that the log was moved out of, where that still says so itself. */
function leftBehind({ db, dataDir }: Core): string | null {
  const from = setting(db, MOVED_FROM)
  if (typeof from !== 'string' || from === dataDir || !existsSync(from)) return null
  try {
    return followMoves(from) === dataDir ? from : null
  } catch {
    return null
  }
}

function clear(core: Core, what: Clearable): { bytes: number } {
  const { clock } = core
  const there = clearable(core).find((one) => one.what === what)
  if (!there) throw new Refusal('There is nothing of that to clear.')
  if (what === 'cache') rmSync(there.path, { recursive: true, force: true })
  if (what === 'aside')
    for (const { path } of asides(there.path))
      for (const rest of ['', '-wal', '-shm']) rmSync(path + rest, { force: true })
  if (what === 'leftBehind') {
    removeOurs(there.path)
    dropSetting(core.db, MOVED_FROM)
  }
  if (what === 'demo') {
    for (const { id, path, watched } of allFolders(core.db))
      if (watched && isWithin(path, there.path)) stopWatching(core.db, id)
    for (const { id, path } of masterFiles(core.db))
      if (isWithin(path, there.path)) retireMaster(core.db, id, instant(clock))
    core.watchAgain()
    rmSync(there.path, { recursive: true, force: true })
  }
  core.changed('settings', 'folders', 'library', 'night')
  return { bytes: there.bytes }
}
