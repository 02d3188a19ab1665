import { z } from 'zod'
import { settingsSchema } from './frame.ts'
import { LIGHT_SOURCES, MASTER_KINDS, MASTER_STATES } from './words.ts'

export const SCALES = ['adu', 'unit'] as const
/** Full scale of masters that are stored from 0 to 1: their software divides by the 16 bits of the frames. */
export const UNIT_ADU = 65_535
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
  /** The capture program of the frames that it was made from, where they are in the log. */
  capturedWith: z.string().nullable().optional(),
  /** The capture program of the newest check frame that held, where that is in the log. */
  provenWith: z.string().nullable().optional(),
  /** When the newest check frame was taken that did not hold, if it was taken after the master was last proven. */
  refutedAt: z.string().nullable().optional(),
  /** Flats: what lit its frames, where all of them say the same; null until known. */
  lightSource: z.enum(LIGHT_SOURCES).nullable().optional(),
  figures: z
    .object({
      median: z.number(),
      noise: z.number().nullable(),
      hotPixels: z.number().nullable(),
      glowPeakAdu: z.number().nullable(),
      /** Noise of one raw frame, and what the master's should be from it and their number; null where unknown. ADU. */
      frameNoise: z.number().nullable().optional(),
      expectedNoise: z.number().nullable().optional(),
      /** A pixel this far above its surroundings counts as hot. */
      hotThresholdAdu: z.number().nullable().optional(),
      /** Middle of the brightest block, pixels from 0. */
      glowPeakAt: z.object({ x: z.number(), y: z.number() }).nullable().optional(),
      flat: z
        .object({
          /** How much darker the corners are than the middle, as a fraction. */
          vignetting: z.number(),
          /** Medians of the channels relative to green; null for mono. */
          balance: z.object({ R: z.number(), G: z.number(), B: z.number() }).nullable(),
          /** Median over noise, per pixel: of the master and of one frame. */
          snr: z.number().nullable(),
          frameSnr: z.number().nullable(),
        })
        .nullable()
        .optional(),
    })
    .nullable(),
  sources: z.array(z.string()),
})
export type Master = z.infer<typeof masterSchema>
