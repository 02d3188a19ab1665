import { z } from 'zod'
import { settingsSchema } from './frame.ts'
import { MASTER_KINDS, MASTER_STATES } from './words.ts'

export const SCALES = ['adu', 'unit'] as const
export const SUBTRACTED = ['none', 'bias', 'darkFlat'] as const

/** One calibration frame integrated from many. `sensorTempC` is the median of its raw frames where they are known. */
export const masterSchema = settingsSchema.extend({
  id: z.number(),
  kind: z.enum(MASTER_KINDS),
  path: z.string(),
  /** Number of frames that made it; null if never told. */
  frames: z.number().nullable(),
  /** When its raw frames were taken (UTC); the file's own DATE where only that is known. */
  madeAt: z.string().nullable(),
  provenAt: z.string().nullable(),
  ageDays: z.number().nullable(),
  /** Id of the epoch that a flat belongs to; null for kinds that have none. */
  epoch: z.string().nullable(),
  state: z.enum(MASTER_STATES),
  sha256: z.string(),
  /** ADU, or 0–1 ("unit"); null until known, and then the master is `unconfirmed`. */
  scale: z.enum(SCALES).nullable(),
  /** What was subtracted before integration; null until known. */
  subtracted: z.enum(SUBTRACTED).nullable(),
  program: z.string().nullable(),
  figures: z
    .object({
      median: z.number(),
      noise: z.number().nullable(),
      hotPixels: z.number().nullable(),
      glowPeakAdu: z.number().nullable(),
    })
    .nullable(),
  sources: z.array(z.string()),
})
export type Master = z.infer<typeof masterSchema>
