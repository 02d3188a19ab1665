/** How long a run is waited for: a run that is not in the night any more is not looked for all night. */
const PATIENCE_MS = 10_000

/** Brings a run of the page to the eye and gives it the focus, as soon as it is there. @returns stops waiting */
export function showRun(page: HTMLElement, run: string): () => void {
  const find = () => {
    const link = page.querySelector<HTMLElement>(`[data-run="${CSS.escape(run)}"]`)
    if (!link) return false
    link.scrollIntoView({ block: 'center' })
    link.focus({ preventScroll: true })
    return true
  }
  if (find()) return () => {}
  const watcher = new MutationObserver(() => {
    if (find()) stop()
  })
  const giveUp = setTimeout(() => stop(), PATIENCE_MS)
  const stop = () => {
    clearTimeout(giveUp)
    watcher.disconnect()
  }
  watcher.observe(page, { childList: true, subtree: true })
  return stop
}
