import { z } from 'zod'

/** A limit with its reason; `source` says where it comes from ("common practice, no source" where it is that). */
const limit = <T extends z.ZodType>(schema: T) => z.object({ value: schema, reason: z.string(), source: z.string() })

/** The limits for a class of sensor. Editable; dark scaling does not exist in any class. */
export const sensorRulesSchema = z.object({
  class: z.enum(['glow', 'quiet', 'yours']),
  name: z.string(),
  /** Shortest exposure, s, of a flat and of every calibration frame; 0 means no floor. */
  floorS: limit(z.number().min(0)),
  biasAllowed: limit(z.boolean()),
  /** Median of a flat, ADU of 16 bits: judged as a fraction of full scale less pedestal. */
  flatTargetAdu: limit(z.number()),
  /** A flat's level may be this far from the target, as a fraction of it, before anyone speaks up. */
  flatToleranceFraction: limit(z.number()),
  /** Brightest channel must stay below this fraction of full scale. */
  linearFraction: limit(z.number()),
  /** Dimmest channel's least signal-to-noise ratio per pixel. */
  leastSnr: limit(z.number()),
  cooledCalibration: limit(z.boolean()),
  /** A flat's gain and offset must equal the light's; else `near`. */
  flatNeedsSameGain: limit(z.boolean()),
})
export type SensorRules = z.infer<typeof sensorRulesSchema>

/** Tolerances of keys and verdicts (03 of the design), and how many frames a master wants. */
export const tolerancesSchema = z.object({
  tempC: z.number(),
  exposureFraction: z.number(),
  exposureS: z.number(),
  angleDeg: z.number(),
  nearTempC: z.number(),
  nearExposureFraction: z.number(),
  nearDarkFlatExposureFraction: z.number(),
  flatTempNoteC: z.number(),
  darkCount: z.number(),
  darkFlatCount: z.number(),
  flatCount: z.number(),
  leastToBuild: z.number(),
  darkAgingDays: z.number(),
  flatAgingDays: z.number(),
  /** A check flat holds where no local change is larger, */
  checkLocalFraction: z.number(),
  /** and 95 % of its blocks changed less than this. */
  checkBlocksFraction: z.number(),
})
export type Tolerances = z.infer<typeof tolerancesSchema>

export const defaultTolerances: Tolerances = {
  tempC: 0.5,
  exposureFraction: 0.001,
  exposureS: 0.01,
  angleDeg: 1,
  nearTempC: 2,
  nearExposureFraction: 0.05,
  nearDarkFlatExposureFraction: 0.1,
  flatTempNoteC: 5,
  darkCount: 20,
  darkFlatCount: 20,
  flatCount: 25,
  leastToBuild: 10,
  darkAgingDays: 365,
  flatAgingDays: 30,
  checkLocalFraction: 0.01,
  checkBlocksFraction: 0.005,
}
