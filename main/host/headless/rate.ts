/** How many things a second on average, and how many at once. */
export interface Rate {
  perS: number
  burst: number
}

export interface Limits {
  /** HTTP requests to the whole host: a shelf full of thumbnails comes at once. */
  requests: Rate
  /** Messages of one page: far more than one needs, far fewer than would trouble the engine. */
  messages: Rate
  /** Messages beyond that which are answered by a refusal; a page that goes on is cut off. */
  refusals: Rate
}

export const usualLimits: Limits = {
  requests: { perS: 200, burst: 2_000 },
  messages: { perS: 100, burst: 400 },
  refusals: { perS: 20, burst: 400 },
}

/** A bucket that holds `burst` and fills at `perS` a second. */
export class RateLimit {
  readonly #rate: Rate
  readonly #nowMs: () => number
  #left: number
  #atMs: number

  constructor(rate: Rate, nowMs: () => number = () => performance.now()) {
    this.#rate = rate
    this.#nowMs = nowMs
    this.#left = rate.burst
    this.#atMs = nowMs()
  }

  allows(): boolean {
    const nowMs = this.#nowMs()
    this.#left = Math.min(this.#rate.burst, this.#left + ((nowMs - this.#atMs) / 1000) * this.#rate.perS)
    this.#atMs = nowMs
    if (this.#left < 1) return false
    this.#left--
    return true
  }
}
