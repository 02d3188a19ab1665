/** One line on stderr that says how far a long job is; only where a person looks at a terminal. */
export function progressLine(silent: boolean, err: NodeJS.WriteStream = process.stderr) {
  const shown = !silent && err.isTTY === true
  const startedAt = performance.now()
  let drawnAt = 0
  return {
    /** Draws at most ten times a second. */
    show(what: string, done: number, total: number): void {
      const now = performance.now()
      if (!shown || now - drawnAt < 100) return
      drawnAt = now
      const leftS = done > 0 ? ((now - startedAt) / 1000) * ((total - done) / done) : null
      const left = leftS !== null && leftS >= 2 ? `, about ${Math.ceil(leftS)} s left` : ''
      err.write(`\r\x1b[K${what}: ${done} of ${total}${left}`)
    },
    clear: (): void => void (shown && err.write('\r\x1b[K')),
  }
}
