import { Worker } from 'node:worker_threads'
import type { Disk } from './disk.ts'

/** What the thread is asked: a method of its own near disk. */
export interface DiskAsk {
  id: number
  does: 'see' | 'seeFolder' | 'followLinks' | 'list' | 'identify' | 'look'
  with: unknown[]
}
export type DiskAnswer = { id: number } & ({ answer: unknown } | { code: string | undefined; message: string })

interface Pending {
  resolve: (answer: never) => void
  reject: (error: Error) => void
}

/**
 * A disk of another machine, looked at by a thread of its own, one look after another. While its server does not answer, that
 * thread stands still and this one does not; what was asked is answered when it is back.
 */
export function farDisk(root: string): Disk {
  const pending = new Map<number, Pending>()
  let worker: Worker | null = null
  let next = 1
  let closed = false

  const start = (): Worker => {
    const source = import.meta.url.endsWith('.ts')
    const script = new URL(source ? './disk-worker.ts' : './disk-worker.js', import.meta.url)
    // In a package, what threads run stands beside the archive that the rest is in.
    const beside = new URL(script.href.replace('/app.asar/', '/app.asar.unpacked/'))
    const started = new Worker(beside, { workerData: root })
    started.unref()
    started.on('message', (answer: DiskAnswer) => {
      const asked = pending.get(answer.id)
      pending.delete(answer.id)
      if ('answer' in answer) asked?.resolve(answer.answer as never)
      else asked?.reject(Object.assign(new Error(answer.message), { code: answer.code }))
    })
    const died = (error?: Error) => {
      if (worker === started) worker = null
      for (const { reject } of pending.values())
        reject(error ?? new Error('the thread that looks at this disk has ended'))
      pending.clear()
    }
    started.on('error', died).on('exit', () => died())
    return started
  }
  const ask = <T>(does: DiskAsk['does'], ...args: unknown[]): Promise<T> =>
    new Promise<T>((resolve, reject) => {
      if (closed) return reject(new Error('this disk is not looked at any more'))
      const id = next++
      pending.set(id, { resolve, reject })
      worker ??= start()
      worker.postMessage({ id, does, with: args } satisfies DiskAsk)
    })

  return {
    see: (path) => ask('see', path),
    seeFolder: (path) => ask('seeFolder', path),
    followLinks: () => ask('followLinks'),
    list: (path) => ask('list', path),
    identify: () => ask('identify'),
    look: (path, before) => ask('look', path, before),
    close() {
      closed = true
      // Not waited for: a thread that stands still in a call of the system ends when that call does.
      void worker?.terminate()
    },
  }
}
