/** The longest that the thread did nothing else, as a timer of 1 ms sees it. */
export interface Held {
  /** As a clock tells, ms: on a busy machine most of it is waiting for a processor or for the disk. */
  wallMs: number
  /** The thread's own work within one such time, ms: what a quiet machine would show at least. */
  ownMs: number
}

/** Watches the thread that calls it until it is stopped. */
export function watchHeld(): { stop(): Promise<Held> } {
  let last = performance.now()
  let cpu = process.threadCpuUsage()
  const held = { wallMs: 0, ownMs: 0 }
  const see = () => {
    const now = performance.now()
    const { user, system } = process.threadCpuUsage(cpu)
    held.wallMs = Math.max(held.wallMs, now - last - 1)
    held.ownMs = Math.max(held.ownMs, (user + system) / 1000)
    last = now
    cpu = process.threadCpuUsage()
  }
  const timer = setInterval(see, 1)
  return {
    async stop() {
      await new Promise((resolve) => setTimeout(resolve, 2))
      see()
      clearInterval(timer)
      return held
    },
  }
}
