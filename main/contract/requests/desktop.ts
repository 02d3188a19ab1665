import { z } from 'zod'
import { asks, does, nothing } from '../request.ts'
import { night } from './night.ts'

const id = z.number().int().positive()

/** Whether Nightshelf starts when its user logs in; `how` says what that does, or what to do where it cannot be set from here. */
const atLogin = z.object({ possible: z.boolean(), on: z.boolean(), how: z.string() })

/**
 * Requests that only a desktop can carry out. The Electron host answers them itself; where a browser shows the window, the
 * engine answers, and says what to do instead.
 */
export const desktopRequests = {
  /** Shows a file in the machine's file manager. The page names it by id and never learns nor sends its path. */
  reveal: does(z.union([z.strictObject({ frame: id }), z.strictObject({ master: id })]), nothing),
  /** Lets its user choose a folder in the system's own window; null where none was chosen. */
  chooseFolder: does(nothing, z.object({ path: z.string().nullable() })),
  /** Lets its user choose where the table of a night goes, and writes it; false where nothing was chosen. */
  saveNightLog: does(z.strictObject({ night }), z.object({ saved: z.boolean(), frames: z.number() })),
  startAtLogin: asks(nothing, atLogin),
  setStartAtLogin: does(z.object({ on: z.boolean() }), atLogin),
}
