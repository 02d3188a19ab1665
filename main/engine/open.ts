import { mkdirSync } from 'node:fs'
import { join } from 'node:path'
import type { Frame } from '../contract/index.ts'
import { openDatabase } from '../../db/open.ts'
import { systemClock, type Clock } from './clock.ts'
import type { Core } from './core.ts'
import { framesOf, logFolders, type LogOptions, type LogReport } from './ingest/log.ts'

export interface EngineOptions {
  /** The folder with the database, the built masters and the backups; made if it is not there. */
  dataDir: string
  clock?: Clock
  /** IANA name; the machine's own by default. */
  zone?: string
}

export interface Engine {
  log(dirs: string[], options?: Pick<LogOptions, 'signal' | 'onProgress'>): Promise<LogReport>
  /** The frames of a report, each under the path at which it was seen. */
  framesOf(report: LogReport): Frame[]
  close(): Promise<void>
}

export const DATABASE = 'nightshelf.db'

export async function openEngine({
  dataDir,
  clock = systemClock,
  zone = systemZone(),
}: EngineOptions): Promise<Engine> {
  mkdirSync(dataDir, { recursive: true })
  const db = openDatabase(join(dataDir, DATABASE))
  const stop = new AbortController()
  const core: Core = { db, dataDir, clock, zone, tell: () => {}, closing: stop.signal, isOutOfReach: () => false }
  return {
    log: (dirs, options) => logFolders(dirs, { ...core, ...options }),
    framesOf: (report) => framesOf(db, report.files),
    close: async () => {
      stop.abort()
      db.close()
    },
  }
}

export const systemZone = (): string => Intl.DateTimeFormat().resolvedOptions().timeZone || 'UTC'
