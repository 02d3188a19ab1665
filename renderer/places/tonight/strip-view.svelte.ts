import type { Axis } from './strip.ts'

const MINUTE = 60_000
/** Closer than this a single exposure fills the strip: there is nothing more to see. */
const LEAST_SPAN = 10 * MINUTE
export const ZOOM_STEP = 1.6
const PAN_PART = 0.25

/** The part of the axis that is shown, with `factor` times less of it, the instant `at` keeping its place. */
export function zoomed(view: Axis, axis: Axis, factor: number, at: number): Axis {
  const whole = axis.to - axis.from
  const span = Math.min(whole, Math.max(Math.min(LEAST_SPAN, whole), (view.to - view.from) / factor))
  const part = (at - view.from) / (view.to - view.from)
  return kept({ from: at - part * span, to: at + (1 - part) * span }, axis)
}

/** The view moved by so many ms, as far as the axis goes. */
export const moved = (view: Axis, axis: Axis, ms: number): Axis =>
  kept({ from: view.from + ms, to: view.to + ms }, axis)

/** The view moved as little as needed for a stretch to be in it; its beginning where it is longer than the view. */
export function revealing(view: Axis, axis: Axis, { from, to }: Axis): Axis {
  if (from < view.from || to - from > view.to - view.from) return moved(view, axis, from - view.from)
  return to > view.to ? moved(view, axis, to - view.to) : view
}

/** A view pushed back inside the axis, its length unchanged. */
function kept({ from, to }: Axis, axis: Axis): Axis {
  const push = from < axis.from ? axis.from - from : to > axis.to ? axis.to - to : 0
  return { from: Math.max(axis.from, from + push), to: Math.min(axis.to, to + push) }
}

/** What part of the night the strip shows. The whole, growing with the night, until somebody zooms in. */
export class StripView {
  readonly #axis: () => Axis
  #chosen = $state.raw<Axis | null>(null)
  readonly #view = $derived.by(() => (this.#chosen ? kept(this.#chosen, this.#axis()) : this.#axis()))

  constructor(axis: () => Axis) {
    this.#axis = axis
  }

  get now() {
    return this.#view
  }

  get isWhole() {
    return this.#chosen === null
  }

  get isClosest() {
    return this.#view.to - this.#view.from <= LEAST_SPAN * 1.001
  }

  /** @param part where the pointer stands, as a part of the width: what is there stays there */
  zoom = (factor: number, part = 0.5) => {
    const { from, to } = this.#view
    this.#choose(zoomed(this.#view, this.#axis(), factor, from + part * (to - from)))
  }

  /** @param parts of the width; positive shows what came later */
  pan = (parts: number) => {
    const { from, to } = this.#view
    if (!this.isWhole) this.#choose(moved(this.#view, this.#axis(), parts * (to - from)))
  }

  reveal = (stretch: Axis) => {
    if (!this.isWhole) this.#choose(revealing(this.#view, this.#axis(), stretch))
  }

  whole = () => (this.#chosen = null)

  /** A key pressed while the strip has the focus. @returns whether it was one of the strip's */
  press(key: string): boolean {
    const action = this.#actions[key]
    action?.()
    return action !== undefined
  }

  readonly #actions: Record<string, (() => void) | undefined> = {
    '+': () => this.zoom(ZOOM_STEP),
    '=': () => this.zoom(ZOOM_STEP),
    '-': () => this.zoom(1 / ZOOM_STEP),
    '0': () => this.whole(),
    ArrowLeft: () => this.pan(-PAN_PART),
    ArrowRight: () => this.pan(PAN_PART),
  }

  #choose(view: Axis) {
    const { from, to } = this.#axis()
    this.#chosen = view.to - view.from >= (to - from) * 0.999 ? null : view
  }
}
