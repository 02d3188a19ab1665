/** Time and timers, passed in, so that a night of watching can be played in a moment. */
export interface WatchClock {
  /** ms since 1970. */
  now(): number
  /** The timer does not keep the process alive. */
  setTimeout(run: () => void, ms: number): unknown
  clearTimeout(timer: unknown): void
}

export const systemClock: WatchClock = {
  now: () => Date.now(),
  setTimeout: (run, ms) => setTimeout(run, ms).unref(),
  clearTimeout: (timer) => clearTimeout(timer as NodeJS.Timeout),
}
