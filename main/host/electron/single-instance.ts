import { app } from 'electron'
import { join } from 'node:path'

/**
 * Two windows on one database would each ring for the same notice: a second start shows the first window and ends.
 * What Chromium stores goes below the data folder, so that the lock belongs to that folder too.
 * @returns false where another instance has the lock; this one is then on its way out
 */
export function becomeOnlyInstance(dataDir: string): boolean {
  app.setName('Nightshelf')
  app.setAppUserModelId('Nightshelf')
  app.setPath('userData', join(dataDir, 'window'))
  const isOnly = app.requestSingleInstanceLock()
  if (!isOnly) app.quit()
  return isOnly
}
