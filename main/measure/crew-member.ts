import { parentPort } from 'node:worker_threads'
import { Refusal } from '../contract/refusal.ts'
import { asFitsError, FitsError } from '../fits/error.ts'

/** What a thread sends back: the answer, a file's problem or a refusal as a sentence, or a fault of ours. */
export type Outcome<Answer> =
  { answer: Answer } | { path: string; code: string; message: string } | { refused: string } | { fault: string }

/** Thrown in a thread to say which file a problem belongs to. */
export class AtFile extends Error {
  readonly path: string
  constructor(path: string, cause: unknown) {
    super(path, { cause })
    this.path = path
  }
}

/** Runs `work` and puts the file's path to whatever it throws. */
export function atFile<T>(path: string, work: () => T): T {
  try {
    return work()
  } catch (error) {
    throw error instanceof AtFile ? error : new AtFile(path, error)
  }
}

/** The thread's side of a crew: answers each request, one at a time. */
export function serve<Ask, Answer>(handle: (request: Ask) => Answer | Promise<Answer>): void {
  parentPort!.on('message', async (request: Ask) => {
    parentPort!.postMessage(await outcomeOf(() => handle(request)))
  })
}

async function outcomeOf<Answer>(work: () => Answer | Promise<Answer>): Promise<Outcome<Answer>> {
  try {
    return { answer: await work() }
  } catch (error) {
    const cause = error instanceof AtFile ? asFitsError(error.cause) : error
    if (error instanceof AtFile && cause instanceof FitsError)
      return { path: error.path, code: cause.code, message: cause.message }
    if (cause instanceof Refusal) return { refused: cause.message }
    return { fault: cause instanceof Error ? (cause.stack ?? cause.message) : String(cause) }
  }
}
