import { z } from 'zod'
import { asks, does } from '../request.ts'
import { LIGHT_SOURCES } from '../words.ts'

export const FLAT_POINTS = ['level', 'brightest', 'noise', 'floor', 'clipping', 'balance', 'drift', 'cooler'] as const

/** One thing that a flat is judged by. */
export const flatPointSchema = z.object({
  what: z.enum(FLAT_POINTS),
  /** False: something is to be done about it. */
  right: z.boolean(),
  /** What there is, a sentence. */
  text: z.string(),
  /** What to do about it, in numbers where there are any; null while it is right. */
  todo: z.string().nullable(),
})
export type FlatPoint = z.infer<typeof flatPointSchema>

/** Flats of one run as they are being shot: judged by the latest ones, since the light was last turned up or down. */
export const flatNowSchema = z.object({
  /** Id of the run. */
  run: z.string(),
  /** Measured flats since the level last stepped, and those of the run before that. */
  frames: z.number(),
  before: z.number(),
  /** Median of them against the level to aim for, ADU; null until one is measured. */
  level: z
    .object({
      adu: z.number(),
      /** The target, or less where the brightest channel would leave the linear range. */
      aimAdu: z.number(),
      targetAdu: z.number(),
      fullAdu: z.number(),
      pedestalAdu: z.number(),
      /** Level over aim, pedestal off both. */
      ratio: z.number(),
      right: z.boolean(),
    })
    .nullable(),
  /** Each channel's median, ADU, and as a fraction of the target, pedestal off both; empty for mono. */
  channels: z.array(z.object({ channel: z.enum(['R', 'G', 'B']), adu: z.number(), ofTarget: z.number() })),
  points: z.array(flatPointSchema),
  lightSource: z.enum(LIGHT_SOURCES).nullable(),
  /** What was said last of flats of this rig: a suggestion, never applied by itself. */
  suggestedSource: z.enum(LIGHT_SOURCES).nullable(),
})
export type FlatNow = z.infer<typeof flatNowSchema>

export const flatRequests = {
  /** The runs of flats of a night (the usual one where left out), those set aside not among them. */
  flatsNow: asks(
    z.object({
      night: z
        .string()
        .regex(/^\d{4}-\d{2}-\d{2}$/, 'A night is written as its date, like 2026-11-20.')
        .optional(),
    }),
    z.object({ night: z.string(), flats: z.array(flatNowSchema) }),
  ),
  /** What lit these flats, whatever their headers say; null: as the header says again. Masters made of them follow. */
  setLightSource: does(
    z.object({
      frames: z.array(z.number().int().positive()).min(1, 'Say which frames.'),
      source: z.enum(LIGHT_SOURCES).nullable(),
    }),
    z.object({
      frames: z.number(),
      /** The step that takes it back; null where nothing is told differently. */
      step: z.number().nullable().optional(),
    }),
  ),
}
