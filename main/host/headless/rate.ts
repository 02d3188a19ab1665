/** Allows `perS` things a second on average and `burst` at once; counts what it refused since it last allowed anything. */
export class RateLimit {
  /** How many were refused in a row. */
  refused = 0
  readonly #perS: number
  readonly #burst: number
  readonly #nowMs: () => number
  #left: number
  #atMs: number

  constructor(perS: number, burst: number, nowMs: () => number = () => performance.now()) {
    this.#perS = perS
    this.#burst = burst
    this.#nowMs = nowMs
    this.#left = burst
    this.#atMs = nowMs()
  }

  allows(): boolean {
    const nowMs = this.#nowMs()
    this.#left = Math.min(this.#burst, this.#left + ((nowMs - this.#atMs) / 1000) * this.#perS)
    this.#atMs = nowMs
    if (this.#left < 1) {
      this.refused++
      return false
    }
    this.#left--
    this.refused = 0
    return true
  }
}
