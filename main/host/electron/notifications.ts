import { Notification } from 'electron'
import type { Notice } from '../../contract/index.ts'
import type { Night } from './night.ts'
import type { Window } from './window.ts'

/** The notices that must reach somebody who is not looking: `actNow` alone, and each once. */
export function alarmsAmong(notices: Notice[], told: Set<string>): Notice[] {
  return notices.filter((notice) => notice.severity === 'actNow' && !notice.acknowledged && !told.has(notice.id))
}

export function setUpNotifications(night: Night, window: Window): void {
  if (!Notification.isSupported()) return
  const told = new Set<string>()
  // Kept while they are shown: one that is collected as garbage no longer hears its click.
  const shown = new Set<Notification>()
  night.follow(({ tonight }) => {
    for (const notice of alarmsAmong(tonight?.notices ?? [], told)) {
      told.add(notice.id)
      const notification = new Notification({
        title: 'Act now',
        body: notice.text,
        urgency: 'critical',
        // The window makes the one sound that a notice may make.
        silent: true,
      })
      shown.add(notification)
      notification.on('click', () => window.show('#/tonight'))
      notification.on('close', () => shown.delete(notification))
      notification.show()
    }
  })
}
