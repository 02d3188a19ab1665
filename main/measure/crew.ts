import { Worker } from 'node:worker_threads'
import { availableParallelism } from 'node:os'
import { Refusal } from '../contract/refusal.ts'
import type { Outcome } from './crew-member.ts'

/** What went wrong with one file, said by a thread: `message` is a sentence for a person. */
export class FileProblem extends Error {
  override name = 'FileProblem'
  readonly path: string
  readonly code: string
  constructor(path: string, code: string, message: string) {
    super(message)
    this.path = path
    this.code = code
  }
}

/** Threads of one kind that take one request each at a time, in the order asked. */
export interface Crew<Ask, Answer> {
  size: number
  /**
   * Rejects with a `FileProblem` for what a file did, with the signal's reason when aborted, and with another Error when the thread
   * died. An aborted request that has begun ends its thread: nothing in it runs on; the next request starts a fresh one.
   */
  ask(request: Ask, signal?: AbortSignal): Promise<Answer>
  /** Ends every thread; what was pending rejects. */
  close(): Promise<void>
}

interface Pending<Ask, Answer> {
  request: Ask
  resolve(answer: Answer): void
  reject(error: unknown): void
  signal: AbortSignal | undefined
  /** Takes the abort listener off again. */
  settle(): void
}

/** A thread that had nothing to do for so long is ended: its WebAssembly memory goes back. */
const IDLE_MS = 30_000

/** One thread per core. */
export const cores = (): number => availableParallelism()

/**
 * @param script the thread's own file; it calls `serve` of crew-member.ts
 * @param size most threads at once
 */
export function createCrew<Ask, Answer>(script: URL, size = cores()): Crew<Ask, Answer> {
  const queue: Pending<Ask, Answer>[] = []
  const members = new Set<Member<Ask, Answer>>()
  let closed = false

  const next = () => {
    while (queue.length) {
      const free = [...members].find((m) => !m.pending && !m.ending)
      if (!free && members.size >= size) return
      const member = free ?? new Member<Ask, Answer>(script, next, () => members.delete(member))
      members.add(member)
      member.take(queue.shift()!)
    }
  }

  return {
    size,
    ask: (request, signal) =>
      new Promise<Answer>((resolve, reject) => {
        if (closed) return reject(new Error('These threads have been closed.'))
        if (signal?.aborted) return reject(signal.reason)
        const pending: Pending<Ask, Answer> = { request, resolve, reject, signal, settle: () => {} }
        const abort = () => {
          const at = queue.indexOf(pending)
          if (at >= 0) queue.splice(at, 1)
          else [...members].find((m) => m.pending === pending)?.end()
          reject(signal!.reason)
        }
        signal?.addEventListener('abort', abort, { once: true })
        pending.settle = () => signal?.removeEventListener('abort', abort)
        queue.push(pending)
        next()
      }),
    async close() {
      closed = true
      for (const pending of queue.splice(0)) pending.reject(new Error('These threads have been closed.'))
      await Promise.all([...members].map((m) => m.end()))
    },
  }
}

/** In a package, what threads run stands beside the archive that the rest is in. */
const besideArchive = (script: URL): URL => new URL(script.href.replace('/app.asar/', '/app.asar.unpacked/'))

class Member<Ask, Answer> {
  pending: Pending<Ask, Answer> | null = null
  /** Told to end, and not gone yet: its last answer may still arrive, but it takes nothing more. */
  ending = false
  readonly #worker: Worker
  readonly #free: () => void
  #idle: NodeJS.Timeout | undefined

  constructor(script: URL, free: () => void, gone: () => void) {
    this.#free = free
    this.#worker = new Worker(besideArchive(script))
    this.#worker.unref()
    this.#worker.on('message', (outcome: Outcome<Answer>) => this.#answer(outcome))
    this.#worker.on('error', (error) => this.#fail(error))
    this.#worker.on('exit', (code) => {
      clearTimeout(this.#idle)
      gone()
      this.#fail(new Error(`A pixel thread ended while it worked (exit ${code}).`))
      free()
    })
  }

  take(pending: Pending<Ask, Answer>): void {
    clearTimeout(this.#idle)
    this.pending = pending
    // Only a thread at work keeps the process alive.
    this.#worker.ref()
    this.#worker.postMessage(pending.request)
  }

  async end(): Promise<void> {
    this.ending = true
    clearTimeout(this.#idle)
    await this.#worker.terminate()
  }

  #answer(outcome: Outcome<Answer>): void {
    const pending = this.#release()
    if ('answer' in outcome) pending?.resolve(outcome.answer)
    else if ('path' in outcome) pending?.reject(new FileProblem(outcome.path, outcome.code, outcome.message))
    else pending?.reject('refused' in outcome ? new Refusal(outcome.refused) : new Error(outcome.fault))
    this.#free()
  }

  #fail(error: unknown): void {
    this.#release()?.reject(error)
  }

  #release(): Pending<Ask, Answer> | null {
    const { pending } = this
    this.pending = null
    pending?.settle()
    this.#worker.unref()
    this.#idle = setTimeout(() => void this.end(), IDLE_MS).unref()
    return pending
  }
}
