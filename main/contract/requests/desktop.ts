import { z } from 'zod'
import { does, nothing } from '../request.ts'

const id = z.number().int().positive()

/**
 * Requests that only a desktop can carry out. The Electron host answers them itself; where a browser shows the window, the
 * engine answers, and says what to do instead.
 */
export const desktopRequests = {
  /** Shows a file in the machine's file manager. The page names it by id and never learns nor sends its path. */
  reveal: does(z.union([z.strictObject({ frame: id }), z.strictObject({ master: id })]), nothing),
}
