import { z } from 'zod'
import { asks, does, nothing } from '../request.ts'
import { masterSchema, SCALES, SUBTRACTED } from '../master.ts'
import { MASTER_KINDS } from '../words.ts'

/** What a person may tell about a master that its header lacks. */
export const masterAnswersSchema = z
  .object({
    kind: z.enum(MASTER_KINDS),
    camera: z.string(),
    gain: z.union([z.number(), z.string()]),
    offset: z.union([z.number(), z.string()]),
    tempC: z.number(),
    exposureS: z.number(),
    filter: z.string(),
    scale: z.enum(SCALES),
    subtracted: z.enum(SUBTRACTED),
    frames: z.number().int().positive(),
  })
  .partial()
export type MasterAnswers = z.infer<typeof masterAnswersSchema>

export const refusalSchema = z.object({ path: z.string(), reason: z.string(), lacks: z.array(z.string()) })

const byId = z.object({ id: z.number().int() })
export const libraryRequests = {
  library: asks(nothing, z.object({ masters: z.array(masterSchema) })),
  addMasters: does(
    z.object({
      paths: z.array(z.string()).min(1),
      answers: masterAnswersSchema.default({}),
      copy: z.boolean().default(false),
    }),
    z.object({
      /** New, or known and told more about now (scale, history, frames, where it is). */
      added: z.array(masterSchema),
      refused: z.array(refusalSchema),
      /** In the library already, bytes and all: nothing was changed. */
      already: z.array(masterSchema).optional(),
    }),
  ),
  retireMaster: does(byId, z.object({ master: masterSchema })),
  restoreMaster: does(byId, z.object({ master: masterSchema })),
  verifyLibrary: does(
    nothing,
    z.object({ ok: z.number(), damaged: z.array(z.object({ id: z.number(), path: z.string(), reason: z.string() })) }),
  ),
}
