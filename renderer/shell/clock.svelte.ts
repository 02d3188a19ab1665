/** The engine's clock, ticking each second. The screen may hang on another machine, whose own clock may be off. */
export class Clock {
  #device = $state(Date.now())
  #ahead = $state(0)

  /** Milliseconds since 1970. */
  get now() {
    return this.#device + this.#ahead
  }

  /** Takes the engine's time from an answer that just came. */
  set(engineNow: string) {
    this.#ahead = Date.parse(engineNow) - Date.now()
  }

  start(): () => void {
    const tick = () => (this.#device = Date.now())
    tick()
    const timer = setInterval(tick, 1000)
    return () => clearInterval(timer)
  }
}
