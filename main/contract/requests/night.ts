import { z } from 'zod'
import { asks, does, nothing } from '../request.ts'
import { frameSchema } from '../frame.ts'
import { tonightSchema, verdictsSchema } from '../night.ts'

export const night = z.string().regex(/^\d{4}-\d{2}-\d{2}$/, 'A night is written as its date, like 2026-11-20.')

export const nightRequests = {
  /** The current night if it has frames, else the newest logged; or the night named. */
  tonight: asks(z.object({ night: night.optional() }), tonightSchema),
  nights: asks(
    nothing,
    z.object({
      nights: z.array(z.object({ night: z.string(), lights: z.number(), lightS: z.number(), frames: z.number() })),
    }),
  ),
  /**
   * Nights in which a target was photographed, newest first: every word of `target` stands in its name, whatever the case, the
   * accents and what stands between letters and numbers ("m31" finds "M 31"). Lights set aside do not count.
   */
  findNights: asks(
    z.object({ target: z.string().trim().min(1).max(200) }),
    z.object({
      nights: z.array(
        z.object({
          night: z.string(),
          /** The names that were found, as the headers have them. */
          targets: z.array(z.string()),
          /** Lights of these targets alone, and how long they were exposed, s. */
          lights: z.number(),
          lightS: z.number(),
        }),
      ),
    }),
  ),
  /** Every frame of a night as a table for spreadsheets (CSV); by default the night that `tonight` shows. */
  nightLog: asks(
    z.object({ night: night.optional() }),
    z.object({ night: z.string(), frames: z.number(), csv: z.string() }),
  ),
  frame: asks(
    z.object({ id: z.number().int() }),
    z.object({
      frame: frameSchema,
      verdicts: verdictsSchema,
      cards: z.array(z.object({ keyword: z.string(), value: z.string(), comment: z.string() })),
    }),
  ),
  /**
   * The run of a frame, frame by frame in the order in which they were taken; those of it that were set aside with it, which
   * make a run of their own.
   */
  run: asks(
    z.object({ frame: z.number().int() }),
    z.object({
      frames: z.array(
        frameSchema
          .pick({ id: true, kind: true, startedAt: true, sensorTempC: true, aside: true, asideWhy: true, state: true })
          .extend({
            /** ADU; null until measured. */
            median: z.number().nullable(),
            noise: z.number().nullable(),
          }),
      ),
    }),
  ),
  acknowledgeNotice: does(z.object({ id: z.string() }), nothing),
}
