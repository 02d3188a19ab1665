import { setImmediate as breathe } from 'node:timers/promises'

/** How long a long answer holds the thread before others have their turn. */
const SLICE_MS = 15

/** Work that is done step by step, a step a few milliseconds at most. */
export type Steps<T> = Generator<void, T>

/** Does it in slices; what came meanwhile has its turn between two of them. */
export async function inSlices<T>(steps: Steps<T>): Promise<T> {
  for (let until = performance.now() + SLICE_MS; ;) {
    const step = steps.next()
    if (step.done) return step.value
    if (performance.now() < until) continue
    await breathe()
    until = performance.now() + SLICE_MS
  }
}
