const LOOK_MS = 300

/**
 * `npm run` puts a shell between itself and this process. SIGTERM to npm ends that shell, which does not pass it on: this
 * process would run on, with nobody to stop it. So the shell's end counts as the signal. Without npm nothing is watched:
 * a program started with nohup outlives its shell on purpose.
 */
export function endWithNpmShell() {
  if (!process.env.npm_lifecycle_event || process.platform === 'win32') return
  const shell = process.ppid
  const look = setInterval(() => {
    if (process.ppid === shell) return
    clearInterval(look)
    process.kill(process.pid, 'SIGTERM')
  }, LOOK_MS)
  look.unref()
}
