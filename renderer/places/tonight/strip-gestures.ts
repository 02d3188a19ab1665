import { ZOOM_STEP, type StripView } from './strip-view.svelte.ts'

/** Farther than this a press has become a drag. */
const DRAG_PX = 5

const partOf = (node: Element, clientX: number) => {
  const { left, width } = node.getBoundingClientRect()
  return (clientX - left) / width
}

/**
 * Wheel, drag and keys of the night strip, as an attachment to its plot. The wheel alone scrolls the page as everywhere;
 * with Ctrl (or ⌘, or two fingers closing on a touchpad) it zooms, with Shift it moves along the night.
 */
export const gestures = (view: StripView) => (plot: HTMLElement) => {
  const ended = new AbortController()
  const { signal } = ended
  let from: { x: number; pointer: number } | null = null
  let dragged = false

  function wheel(event: WheelEvent) {
    if (!event.ctrlKey && !event.metaKey && !event.shiftKey) return
    event.preventDefault()
    const turned = event.deltaY || event.deltaX
    if (event.shiftKey) view.pan(Math.sign(turned) * 0.08)
    else view.zoom(ZOOM_STEP ** (-Math.max(-100, Math.min(100, turned)) / 100), partOf(plot, event.clientX))
  }

  function down(event: PointerEvent) {
    dragged = false
    if (event.button === 0 && !view.isWhole) from = { x: event.clientX, pointer: event.pointerId }
  }

  function move(event: PointerEvent) {
    if (from?.pointer !== event.pointerId) return
    if (!dragged && Math.abs(event.clientX - from.x) < DRAG_PX) return
    dragged = true
    plot.setPointerCapture(event.pointerId)
    view.pan((from.x - event.clientX) / plot.clientWidth)
    from.x = event.clientX
  }

  const up = () => (from = null)

  /** What ends a drag is no click on the run that happens to lie there. */
  function click(event: MouseEvent) {
    if (dragged) event.preventDefault()
    dragged = false
  }

  function key(event: KeyboardEvent) {
    if (event.ctrlKey || event.altKey || event.metaKey) return
    const step = { ArrowUp: -1, ArrowDown: 1 }[event.key]
    if (step ? focusRun(plot, step) : view.press(event.key)) event.preventDefault()
  }

  plot.addEventListener('wheel', wheel, { signal, passive: false })
  plot.addEventListener('pointerdown', down, { signal })
  plot.addEventListener('pointermove', move, { signal })
  plot.addEventListener('pointerup', up, { signal })
  plot.addEventListener('pointercancel', up, { signal })
  plot.addEventListener('click', click, { signal, capture: true })
  // The buttons stand beside the plot, in the same figure: keys serve there too.
  plot.closest('figure')!.addEventListener('keydown', key, { signal })
  return () => ended.abort()
}

function focusRun(plot: HTMLElement, step: number): boolean {
  const runs = [...plot.querySelectorAll<HTMLElement>('[data-run]')]
  const at = runs.indexOf(document.activeElement as HTMLElement)
  const next = at < 0 ? runs.at(step > 0 ? 0 : -1) : runs[at + step]
  next?.focus()
  return next !== undefined
}
