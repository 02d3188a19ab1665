import { z } from 'zod'
import { asks, does, nothing } from '../request.ts'
import { settingsSchema } from '../frame.ts'
import { masterSchema } from '../master.ts'
import { MASTER_KINDS } from '../words.ts'

/** A frame that does not go into a master, and why: one sentence. */
export const leftOutSchema = z.object({ frameId: z.number(), path: z.string(), reason: z.string() })

/** Raw frames that belong together, as they stand before anything is computed. */
export const buildGroupSchema = z.object({
  /** Stable for the same frames: made of kind, key settings, epoch and session. */
  id: z.string(),
  kind: z.enum(MASTER_KINDS),
  settings: settingsSchema.partial(),
  have: z.number(),
  need: z.number(),
  state: z.enum(['ready', 'waiting']),
  /** Why it waits, one sentence; null where it is ready. */
  reason: z.string().nullable(),
  frameIds: z.array(z.number()),
  leftOut: z.array(leftOutSchema),
  /** Flats: the master that is subtracted, or the group that is built before. */
  darkFlat: z.object({ master: z.number().nullable(), group: z.string().nullable() }).nullable(),
  /** How the frames are integrated, in words. */
  method: z.string(),
  /** Frames whose pixels were not looked at yet: they may still be left out. */
  unmeasured: z.number(),
  firstAt: z.string().nullable(),
  lastAt: z.string().nullable(),
})
export type BuildGroup = z.infer<typeof buildGroupSchema>

export const builtMasterSchema = masterSchema.extend({
  rejected: z.array(z.object({ path: z.string(), reason: z.string() })),
})
export const waitingSchema = z.object({
  kind: z.enum(MASTER_KINDS),
  settings: settingsSchema.partial(),
  have: z.number(),
  need: z.number(),
  reason: z.string(),
})
/** What a build came to. */
export const buildOutcomeSchema = z.object({ built: z.array(builtMasterSchema), waiting: z.array(waitingSchema) })
export type BuildOutcome = z.infer<typeof buildOutcomeSchema>

const glowMapSchema = z.object({
  blockPx: z.number(),
  columns: z.number(),
  rows: z.number(),
  /** Median of each block, ADU, row by row; null where a block holds no number. */
  medians: z.array(z.number().nullable()),
})
const histogramSchema = z.object({ fromAdu: z.number(), toAdu: z.number(), counts: z.array(z.number()) })

export const buildRequests = {
  /** What is ready to be built, what waits and for what, and what would be left out. `keep`: frames put back by hand. */
  builds: asks(
    z.object({ keep: z.array(z.number().int()).default([]), least: z.number().int().min(1).optional() }),
    z.object({ groups: z.array(buildGroupSchema), running: z.string().nullable() }),
  ),
  /**
   * Starts a build of these groups (all that are ready, where none are named). Progress comes as events with this `job`;
   * `outcome` is null unless `wait` is asked for. Refused while another build runs.
   */
  startBuild: does(
    z.object({
      groups: z.array(z.string()).optional(),
      kind: z.enum(MASTER_KINDS).optional(),
      keep: z.array(z.number().int()).default([]),
      least: z.number().int().min(1).optional(),
      wait: z.boolean().default(false),
    }),
    z.object({ job: z.string(), outcome: buildOutcomeSchema.nullable() }),
  ),
  /** Stops the running build: what is finished stays, of the rest nothing is left. */
  stopBuild: does(nothing, z.object({ stopped: z.boolean() })),
  /** What a master's page shows besides its row: read from its file. */
  masterDetail: asks(
    z.object({ id: z.number().int() }),
    z.object({
      glow: glowMapSchema,
      histogram: histogramSchema,
      sources: z.array(
        z.object({
          path: z.string(),
          sha256: z.string().nullable(),
          frameId: z.number().nullable(),
          rejected: z.string().nullable(),
        }),
      ),
    }),
  ),
  /** Builds a master again from its sources, in memory, and says whether the same bytes come out. */
  rebuildMaster: does(z.object({ id: z.number().int() }), z.object({ same: z.boolean(), text: z.string() })),
}
