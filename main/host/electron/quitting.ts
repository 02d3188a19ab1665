import { app, dialog } from 'electron'
import type { EngineKeeper } from '../engine-link.ts'
import type { Window } from './window.ts'

/**
 * Closing the window does not stop the logging: it hides, and the first time it asks, so that nobody is fooled either way.
 * Quitting waits until the engine has closed its database.
 */
export function setUpQuitting(engine: EngineKeeper, window: Window): void {
  let quitting = false
  let closed = false
  let asked = false

  const ask = async () => {
    const { response } = await dialog.showMessageBox(window.native, {
      message: 'Go on logging without the window?',
      detail: 'Frames are logged and watched over as long as Nightshelf runs. The tray brings the window back.',
      buttons: ['Go on', 'Quit'],
      defaultId: 0,
      cancelId: 0,
    })
    asked = true
    if (response === 1) app.quit()
    else window.hide()
  }

  window.onClose((event) => {
    if (quitting) return
    event.preventDefault()
    if (asked) window.hide()
    else void ask()
  })
  app.on('before-quit', (event) => {
    quitting = true
    if (closed) return
    event.preventDefault()
    void engine.close().finally(() => {
      closed = true
      app.quit()
    })
  })
  for (const signal of ['SIGTERM', 'SIGINT'] as const) process.on(signal, () => app.quit())

  // A database that cannot be opened is said once, in the engine's own sentence, and nothing goes on without it.
  engine.opened.catch((error: Error) => {
    if (quitting) return
    dialog.showErrorBox('Nightshelf cannot start', error.message)
    app.quit()
  })
}
