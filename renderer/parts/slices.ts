/** What a frame of 16 ms leaves to work besides drawing. */
const SLICE_MS = 8

/**
 * Long work in slices, so that the window goes on answering: `work` stops at each `yield`, and whenever a slice is used up
 * everything else that waits has its turn. What fits into the first slice is done at once.
 * @returns what the work returns; undefined where `signal` ended it
 */
export async function inSlices<T>(work: Iterator<unknown, T>, signal?: AbortSignal): Promise<T | undefined> {
  let began = performance.now()
  while (!signal?.aborted) {
    const step = work.next()
    if (step.done) return step.value
    if (performance.now() - began < SLICE_MS) continue
    await new Promise((resolve) => setTimeout(resolve))
    began = performance.now()
  }
  return undefined
}

/** The same work at once. */
export function finish<T>(work: Iterator<unknown, T>): T {
  for (;;) {
    const step = work.next()
    if (step.done) return step.value
  }
}
