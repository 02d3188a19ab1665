import { Notification } from 'electron'
import type { Notice, Tonight } from '../../contract/index.ts'
import type { Night } from './night.ts'
import type { Window } from './window.ts'

/** The notices that must reach somebody who is not looking: `actNow` alone, and each once. */
export function alarmsAmong(notices: Notice[], told: Set<string>): Notice[] {
  return notices.filter((notice) => notice.severity === 'actNow' && !notice.acknowledged && !told.has(notice.id))
}

/** Where a notice leads: the run that its frames are in, or Tonight where it is about none. */
export function placeOf({ frameIds }: Pick<Notice, 'frameIds'>, { runs }: Pick<Tonight, 'runs'>): string {
  const run = runs.find((one) => one.frameIds.some((id) => frameIds.includes(id)))
  return run ? `#/tonight?run=${encodeURIComponent(run.id)}` : '#/tonight'
}

/** So long after dawn, taking the rig apart is no news any more. */
const MORNING_MS = 3 * 3_600_000

/**
 * What dawn has to say: what can't be shot any more once the rig is touched.
 * @returns null before dawn, long after it, where no Sun is known, and on a night that lacks nothing
 */
export function dawnWord({ now, sun, shortfall }: Tonight): string | null {
  const sinceDawnMs = sun?.dawnAt ? Date.parse(now) - Date.parse(sun.dawnAt) : NaN
  if (!(sinceDawnMs >= 0 && sinceDawnMs < MORNING_MS)) return null
  const losing = shortfall.filter(({ urgency }) => urgency === 'actNow' || urgency === 'beforeTeardown')
  if (!losing.length) return null
  const lights = Math.max(...losing.map((row) => row.lights))
  const runs = losing.length === 1 ? '1 run of flats or dark flats' : `${losing.length} runs of flats and dark flats`
  return `${runs} still to be shot before the rig is touched; ${lights === 1 ? '1 light needs' : `${lights} lights need`} them.`
}

export function setUpNotifications(night: Night, window: Window): void {
  if (!Notification.isSupported()) return
  const told = new Set<string>()
  // Kept while they are shown: one that is collected as garbage no longer hears its click.
  const shown = new Set<Notification>()
  const tell = (title: string, body: string, place: string) => {
    // The window makes the one sound that a notice may make.
    const notification = new Notification({ title, body, urgency: 'critical', silent: true })
    shown.add(notification)
    notification.on('click', () => window.show(place))
    notification.on('close', () => shown.delete(notification))
    notification.show()
  }
  night.follow(({ tonight }) => {
    if (!tonight) return
    for (const notice of alarmsAmong(tonight.notices, told)) {
      told.add(notice.id)
      tell('Act now', notice.text, placeOf(notice, tonight))
    }
    const word = told.has(`dawn ${tonight.night}`) ? null : dawnWord(tonight)
    if (word) {
      told.add(`dawn ${tonight.night}`)
      tell('Dawn', word, '#/flats')
    }
  })
}
