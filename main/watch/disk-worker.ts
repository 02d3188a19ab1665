import { parentPort, workerData } from 'node:worker_threads'
import type { Look } from './complete.ts'
import { nearDisk } from './disk.ts'
import type { DiskAnswer, DiskAsk } from './far-disk.ts'

/** The thread that looks at a disk of another machine: to itself it is a near one. */
const disk = nearDisk(workerData as string)

parentPort!.on('message', async ({ id, does, with: args }: DiskAsk) => {
  parentPort!.postMessage(await answerTo(id, does, args))
})

async function answerTo(id: number, does: DiskAsk['does'], args: unknown[]): Promise<DiskAnswer> {
  try {
    const answer: unknown = await (disk[does] as (...args: unknown[]) => unknown)(...args)
    return { id, answer: does === 'look' ? plain(answer as Look) : answer }
  } catch (error) {
    return { id, code: (error as NodeJS.ErrnoException).code, message: (error as Error).message }
  }
}

/** Headers with their methods cannot cross between threads; what a watcher tells of a file is its shape. */
function plain(look: Look): Look {
  if (!('info' in look)) return look
  const { fileSize, mtimeMs, image, expectedLength, leastLength, state } = look.info
  return { ...look, info: { fileSize, mtimeMs, image, expectedLength, leastLength, state } }
}
