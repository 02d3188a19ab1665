import { z } from 'zod'
import { asks, does, nothing } from '../request.ts'
import { FILE_VIEWS } from '../words.ts'
import { night } from './night.ts'

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
    z.object({ of: z.enum(['frame', 'master', 'check']), id: z.number().int().positive(), view: z.enum(FILE_VIEWS) }),
    z.object({ path: z.string(), type: z.enum(['application/fits', 'image/png']) }),
  ),
  /** Where the file of a frame or master itself stands. Refused with a sentence if it is not there now. */
  place: asks(
    z.object({ of: z.enum(['frame', 'master']), id: z.number().int().positive() }),
    z.object({ path: z.string() }),
  ),
  /**
   * Writes the table of `nightLog` to a file, whole or not at all, over one that is there. Refused with a sentence below a folder of
   * frames, and where a frame or master stands.
   */
  writeNightLog: does(
    z.object({ night: night.optional(), path: z.string() }),
    z.object({ path: z.string(), night: z.string(), frames: z.number() }),
  ),
  /** The machine slept and is awake again: watcher events may have been missed, so every folder is scanned now. */
  wake: does(nothing, nothing),
  /** Stops the watchers and jobs, closes the database, answers; the engine process then ends with exit code 0. */
  shutDown: does(nothing, nothing),
}
