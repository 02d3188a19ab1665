import type { Browser, Page } from 'playwright-core'

/** How long the frames of a page took, ms. */
export interface FrameTimes {
  frames: number
  medianMs: number
  p99Ms: number
  longestMs: number
}

/** Records the time between frames, by requestAnimationFrame, from now until `framesSince` is asked. */
export const watchFrames = (page: Page): Promise<void> =>
  page.evaluate(() => {
    const times: number[] = []
    let last = performance.now()
    const see = (now: number) => {
      times.push(now - last)
      last = now
      watched.id = requestAnimationFrame(see)
    }
    const watched = { times, id: requestAnimationFrame(see) }
    Object.assign(window, { watched })
  })

/** The frames since then; the first two belong to what was before. */
export async function framesSince(page: Page): Promise<FrameTimes> {
  const times = await page.evaluate(() => {
    const { watched } = window as unknown as { watched: { times: number[]; id: number } }
    cancelAnimationFrame(watched.id)
    return watched.times.slice(2)
  })
  times.sort((a, b) => a - b)
  const at = (share: number) => times[Math.min(times.length - 1, Math.floor(share * times.length))] ?? NaN
  return { frames: times.length, medianMs: at(0.5), p99Ms: at(0.99), longestMs: times.at(-1) ?? NaN }
}

/** The main thread's own work between two moments, ms: unlike the time between frames, other programs do not lengthen it. */
export async function mainThread(page: Page): Promise<{ since(): Promise<number> }> {
  const session = await page.context().newCDPSession(page)
  await session.send('Performance.enable', { timeDomain: 'threadTicks' })
  const now = async () => {
    const { metrics } = await session.send('Performance.getMetrics')
    return 1000 * (metrics.find(({ name }) => name === 'TaskDuration')?.value ?? NaN)
  }
  const from = await now()
  return {
    since: async () => {
      const ms = (await now()) - from
      await session.detach()
      return ms
    },
  }
}

/** Scrolls an element by so many pixels a frame, for so many frames. */
export const scrollByFrames = (page: Page, selector: string, pxPerFrame: number, frames: number): Promise<void> =>
  page.evaluate(
    ([selector, pxPerFrame, frames]) =>
      new Promise<void>((resolve) => {
        const element = document.querySelector(selector)!
        let left = frames
        const step = () => {
          element.scrollTop += pxPerFrame
          if (--left > 0) requestAnimationFrame(step)
          else resolve()
        }
        requestAnimationFrame(step)
      }),
    [selector, pxPerFrame, frames] as const,
  )

/** What the page itself does during `work`, by processor time, which other programs do not lengthen as they do wall time. */
export async function ownWork(
  browser: Browser,
  page: Page,
  work: () => Promise<unknown>,
): Promise<{ longestTaskMs: number; windowMs: number; drawingMs: number }> {
  await browser.startTracing(page, { categories: ['toplevel'] })
  await work()
  const { traceEvents } = JSON.parse((await browser.stopTracing()).toString()) as { traceEvents: TraceEvent[] }
  const threads = new Map<string, string>()
  for (const { name, pid, tid, args } of traceEvents)
    if (name === 'thread_name') threads.set(`${pid}/${tid}`, args!.name!)
  const found = { longestTaskMs: 0, windowMs: 0, drawingMs: 0 }
  for (const { name, pid, tid, tdur = 0 } of traceEvents) {
    if (!name.endsWith('RunTask')) continue
    const thread = threads.get(`${pid}/${tid}`)
    if (thread === 'CrRendererMain') {
      found.windowMs += tdur / 1000
      found.longestTaskMs = Math.max(found.longestTaskMs, tdur / 1000)
    } else if (thread === 'ThreadPoolForegroundWorker') found.drawingMs += tdur / 1000
  }
  return found
}

/** An event of the browser's trace; `tdur` is the thread's own time, microseconds. */
interface TraceEvent {
  name: string
  pid: number
  tid: number
  tdur?: number
  args?: { name?: string }
}
