import { join } from 'node:path'
import { watch } from 'chokidar'

/** Something that tells, without a promise, that a path may have changed. The watcher believes its own looks only. */
export interface Hints {
  /** Begins to listen in one folder (not below it). */
  add(folder: string): void
  remove(folder: string): void
  close(): Promise<void>
}

export type HintSource = (onHint: (path: string) => void, onError: (error: Error) => void) => Hints

/** So long after a folder was handed over it is surely listened to; what came in between is found by a look. */
const SURE_MS = 1_000
/** One folder is handed over every so many ms: all at once would hold a listing of everything in memory. */
const PACE_MS = 25

/**
 * The system's own notifications through chokidar: one watch a folder, none a file. Files are ignored by path, so chokidar keeps
 * nothing about them and reads nothing on their events; what is used is its raw event, which names folder and file.
 */
export const systemHints: HintSource = (onHint, onError) => {
  const folders = new Set<string>()
  const plain = (path: string) => path.replaceAll('\\', '/')
  const watcher = watch([], {
    ignored: (path) => !folders.has(plain(path)),
    ignoreInitial: true,
    followSymlinks: true,
    atomic: false,
    depth: 0,
  })
  watcher.on('raw', (_event, name, details: unknown) => {
    const folder = (details as { watchedPath?: string } | undefined)?.watchedPath
    if (folder) onHint(name ? join(folder, String(name)) : folder)
  })
  watcher.on('error', (error) => onError(error as Error))
  const queue: string[] = []
  let timer: NodeJS.Timeout | null = null
  const handOver = () => {
    timer = null
    const folder = queue.shift()
    if (folder === undefined) return
    if (folders.has(plain(folder))) {
      watcher.add(folder)
      setTimeout(() => onHint(folder), SURE_MS).unref()
    }
    if (queue.length) timer = setTimeout(handOver, PACE_MS).unref()
  }
  return {
    add(folder) {
      if (folders.has(plain(folder))) return
      folders.add(plain(folder))
      queue.push(folder)
      timer ??= setTimeout(handOver, 0)
    },
    remove(folder) {
      if (folders.delete(plain(folder))) watcher.unwatch(folder)
    },
    async close() {
      if (timer) clearTimeout(timer)
      queue.length = 0
      await watcher.close()
    },
  }
}
