import { z } from 'zod'
import { asks, does, nothing } from '../request.ts'

/** What may be cleared from the disk: nothing of it is the only copy of anything. */
export const CLEARABLE = ['cache', 'aside', 'leftBehind', 'demo'] as const
export type Clearable = (typeof CLEARABLE)[number]

export const backupSchema = z.object({
  name: z.string(),
  at: z.string(),
  bytes: z.number(),
  /** The log that a restored copy took the place of. */
  aside: z.boolean(),
})
export type BackupTold = z.infer<typeof backupSchema>

export const dataRequests = {
  /** Where log and masters stand, how large they are, and what room is left. */
  dataFolder: asks(
    nothing,
    z.object({
      path: z.string(),
      bytes: z.object({ log: z.number(), masters: z.number(), backups: z.number(), pictures: z.number() }),
      freeBytes: z.number().nullable(),
      /** What could be cleared, with its size; what there is nothing of is left out. */
      clearable: z.array(z.object({ what: z.enum(CLEARABLE), bytes: z.number(), path: z.string() })),
      /** A move is being prepared. */
      moving: z.boolean(),
    }),
  ),
  clear: does(z.object({ what: z.enum(CLEARABLE) }), z.object({ bytes: z.number() })),
  /** Copies that can be restored, newest first. */
  backups: asks(nothing, z.object({ folder: z.string(), kept: z.number(), backups: z.array(backupSchema) })),
  /** A checked copy now. The command line may name a file of its own for it, which must not be there yet. */
  backUp: does(z.object({ path: z.string().min(1).optional() }), z.object({ path: z.string(), bytes: z.number() })),
  /**
   * Checks a copy and puts it in the place of the log, which is kept aside. Answers once the copy was found good; the engine
   * then starts again on it.
   */
  restoreBackup: does(z.object({ name: z.string().min(1).max(100) }), nothing),
  /**
   * Copies log and masters to an empty folder of this machine while the logging goes on, checks them, and then starts the
   * engine again there. Answers once it has begun; progress comes as events of the job "move".
   */
  moveDataFolder: does(z.object({ path: z.string().min(1) }), nothing),
  /** Gives a move up; nothing of it stays in the new folder. */
  stopMove: does(nothing, z.object({ stopped: z.boolean() })),
}
