import { expect, it } from 'vitest'
import { createCrew } from '../../main/measure/crew.ts'

/** Answers each number with its double, at once. */
const doubler = new URL(
  'data:text/javascript,import { parentPort } from "node:worker_threads";' +
    'parentPort.on("message", (n) => parentPort.postMessage({ answer: 2 * n }))',
)

it('a request that follows an aborted one does not go to the thread that is ending', async () => {
  const crew = createCrew<number, number>(doubler, 1)
  for (let round = 0; round < 10; round++) {
    const stop = new AbortController()
    const aborted = crew.ask(1, stop.signal)
    // The thread is given time to start and to answer; its answer waits while this thread is busy.
    if (round % 2) await new Promise((resolve) => setTimeout(resolve, 60))
    for (const until = performance.now() + 120; performance.now() < until;);
    stop.abort(new Error('enough'))
    const [first, second] = await Promise.allSettled([aborted, crew.ask(21)])
    if (first.status === 'rejected') expect(first.reason.message).toBe('enough')
    expect(second).toEqual({ status: 'fulfilled', value: 42 })
  }
  await crew.close()
})
