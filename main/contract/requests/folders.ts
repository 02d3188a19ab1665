import { z } from 'zod'
import { asks, does, nothing } from '../request.ts'

export const folderSchema = z.object({
  id: z.number(),
  path: z.string(),
  rig: z.string().nullable(),
  reachable: z.boolean(),
  frames: z.number(),
  /** Whether it is looked through every few seconds (nothing tells of new files on a network), and not listened to. */
  polling: z.boolean().optional(),
  /** What the user chose; null: as its disk asks. */
  pollingChosen: z.boolean().nullable().optional(),
  /** One sentence about how it is watched, where there is something to say. */
  note: z.string().nullable().optional(),
})

export const folderRequests = {
  folders: asks(nothing, z.object({ folders: z.array(folderSchema) })),
  /** Begins to watch a folder; what is in it is logged at once. Refused with a sentence if it cannot be read. */
  watchFolder: does(
    z.object({ path: z.string().min(1), polling: z.boolean().nullable().optional() }),
    z.object({ folder: folderSchema }),
  ),
  /** Looks through a watched folder every few seconds, or listens to it; null: as its disk asks. */
  pollFolder: does(
    z.object({ id: z.number().int(), polling: z.boolean().nullable() }),
    z.object({ folder: folderSchema }),
  ),
  /** Stops watching; nothing that was logged is forgotten. */
  unwatchFolder: does(z.object({ id: z.number().int() }), nothing),
  /** Folders below a folder of the engine's machine, so that one can be chosen from another machine's browser. */
  browseFolders: asks(
    z.object({ path: z.string().optional() }),
    z.object({
      path: z.string(),
      parent: z.string().nullable(),
      folders: z.array(z.object({ name: z.string(), fits: z.number() })),
    }),
  ),
  /** Writes a simulated night into the data folder, live, and watches it. */
  playDemo: does(z.object({ speed: z.number().positive().default(60) }), z.object({ folder: folderSchema })),
}
