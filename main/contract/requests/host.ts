import { z } from 'zod'
import { asks, does, nothing } from '../request.ts'

/** What can be fetched of a frame or a master, as the last part of its address; see `files.ts`. */
export const FILE_VIEWS = ['pixels', 'thumbnail.png'] as const

/**
 * Requests that a host asks on its own behalf. The page cannot reach them: they deal in paths, and a page only ever
 * names files by id. The engine handles them like any other.
 */
export const hostRequests = {
  /**
   * Where the bytes behind an address stand. `pixels` is the FITS file itself where its image is stored plainly; where
   * it is tile-compressed, a plain copy in the engine's own cache folder. Refused with a sentence if there is none (yet).
   */
  file: asks(
    z.object({ of: z.enum(['frame', 'master']), id: z.number().int().positive(), view: z.enum(FILE_VIEWS) }),
    z.object({ path: z.string(), type: z.enum(['application/fits', 'image/png']) }),
  ),
  /** Stops the watchers and jobs, closes the database, answers; the engine process then ends with exit code 0. */
  shutDown: does(nothing, nothing),
}
