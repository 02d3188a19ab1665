import { z } from 'zod'
import { asks, does, nothing } from '../request.ts'
import { sensorRulesSchema } from '../rules.ts'

/** One thing that a check found: where (0-based pixels), how large, how much. */
export const findingSchema = z.object({
  /** Flats: shadow-new, shadow-gone, vignetting, tilt, balance. Darks: pedestal, dark-signal, glow, glow-shape, hot-new, another-sensor. */
  what: z.enum([
    'shadow-new',
    'shadow-gone',
    'vignetting',
    'tilt',
    'balance',
    'pedestal',
    'dark-signal',
    'glow',
    'glow-shape',
    'hot-new',
    'another-sensor',
  ]),
  where: z.object({ x: z.number(), y: z.number() }).nullable(),
  sizePx: z.number().nullable(),
  /** A fraction; for pedestal, glow and glow-shape of a check dark, ADU. */
  depth: z.number(),
})
export type CheckFinding = z.infer<typeof findingSchema>

const number = z.number().nullable()

export const flatCheckFiguresSchema = z.object({
  /** Mean of the fresh flat over the master's, for each colour cell in stored order: (0,0) (1,0) (0,1) (1,1). */
  cellRatio: z.array(z.number()),
  /** What a plane makes from corner to corner: a panel put back is never level. Fraction; no fault by itself. */
  tilt: z.number(),
  vignettingShift: z.number(),
  /** Share of all blocks within the limit (0.5 %). */
  withinFraction: z.number(),
  pixelNoise: z.number(),
  blockNoise: z.number(),
  blockPx: z.number(),
  /** The master whose pixels were taken off the fresh flat first. */
  darkFlat: z.number(),
})
export const darkCheckFiguresSchema = z.object({
  pedestalAdu: z.number(),
  /** What hot pixels gathered against the master: 1 is the same. Null with fewer than 50 hot pixels. */
  signalRatio: number,
  glowRatio: number,
  glowPeakAdu: number,
  hotKept: z.number(),
  hotGone: z.number(),
  hotNew: z.number(),
  noiseAdu: z.number(),
})

const checkSchema = z.object({
  id: z.number(),
  /** One sentence for a person. */
  text: z.string(),
  /** When the check frame was taken (UTC), and the epoch that it belongs to. */
  at: z.string(),
  epoch: z.string().nullable(),
  path: z.string(),
  master: z.number(),
  /** True where a person chose the master: such a check proves nothing about the one that should match. */
  forced: z.boolean(),
  holds: z.boolean(),
  findings: z.array(findingSchema),
  /** When a person took it back: it proves nothing any more. */
  undoneAt: z.string().nullable().optional(),
})
/** How a check flat came out. Its map of changes is the picture `fileAddress('check', id, 'map.png')`, ±2 % about mid-grey. */
export const flatCheckSchema = checkSchema.extend({ kind: z.literal('flat'), figures: flatCheckFiguresSchema })
/** Its map is the picture of the same name, one noise of a pixel about mid-grey; a dark checked by an earlier version has none. */
export const darkCheckSchema = checkSchema.extend({ kind: z.literal('dark'), figures: darkCheckFiguresSchema })
export type FlatCheckAnswer = z.infer<typeof flatCheckSchema>
export type DarkCheckAnswer = z.infer<typeof darkCheckSchema>

/** A light before or after calibration, ADU; null where it cannot be told (no glow, no sky). */
export const proofFiguresSchema = z.object({
  slopeAdu: z.number(),
  glowAdu: number,
  glowOverNoise: number,
  /** Standard error of `glowAdu`: what the unevenness of the field leaves open. */
  glowErrorAdu: number.optional(),
  vignettingLeft: number,
  shadowsLeft: number,
  /** A figure, never a fault: nothing is clipped. */
  belowZero: z.number(),
  hotPixels: z.number(),
  mottleAdu: z.number(),
  noiseAdu: z.number(),
  /** Excess of the background where the dark glows (at least a quarter of its peak) over what lies outside; null without a glow. */
  glowRegion: z.object({ fraction: z.number(), adu: z.number(), overNoise: z.number() }).nullable().optional(),
  /** Unevenness at 50 to 300 px by channel; null for mono. */
  mottleByChannel: z.object({ R: z.number(), G: z.number(), B: z.number() }).nullable().optional(),
})
/** The pictures are `fileAddress('check', id, 'before.png')` and `'after.png'`: one stretch, the after's black level moved to the before's. */
export const proofSchema = z.object({
  id: z.number(),
  kind: z.literal('proof'),
  text: z.string(),
  at: z.string(),
  path: z.string(),
  /** Where the calibrated light was written; null where nobody asked for a file. */
  out: z.string().nullable(),
  dark: z.number(),
  flat: z.number(),
  forced: z.boolean(),
  figures: z.object({ before: proofFiguresSchema, after: proofFiguresSchema }),
})
export type ProofAnswer = z.infer<typeof proofSchema>

const estimate = z.object({ value: z.number(), ci95: z.tuple([z.number(), z.number()]) })
/** What is known of a sensor at one gain, offset, readout mode and binning, measured from frames in the log or named ones. */
export const sensorFiguresSchema = z.object({
  camera: z.string(),
  body: z.string().nullable(),
  gain: z.union([z.number(), z.string()]).nullable(),
  offset: z.union([z.number(), z.string()]).nullable(),
  readout: z.union([z.number(), z.string()]).nullable(),
  /** Null where it was measured before binning was kept. */
  binning: z.string().nullable().optional(),
  measuredAt: z.string(),
  ePerAdu: estimate,
  temporalDarkNoiseE: estimate,
  saturationE: number,
  linearityErrorPercent: z.object({ min: z.number(), max: z.number() }).nullable(),
  darkCurrentEPerS: estimate.nullable(),
  /** Sensor temperature of that dark current, °C; null where it is not known. */
  darkCurrentAtC: number.optional(),
  /** What hot pixels gather doubles over so many °C. Its interval is null where two temperatures leave none. */
  doublingC: z.object({ value: z.number(), ci95: estimate.shape.ci95.nullable() }).nullable().optional(),
  sources: z.array(z.string()),
})
export type SensorFiguresAnswer = z.infer<typeof sensorFiguresSchema>

const floorPointSchema = z.object({
  exposureS: z.number(),
  frames: z.number(),
  rateAduPerS: z.number(),
  departure: z.number(),
  jump: z.number(),
  steady: z.boolean(),
  /** Of each frame, ADU above the pedestal. */
  levelsAdu: z.array(z.number()).optional(),
})
const temperatureGroupSchema = z.object({ tempC: z.number(), pedestalAdu: number })
/** The same exposures cooled and uncooled: fractions, but for the pedestals (ADU). */
const floorComparisonSchema = z.object({
  cooled: temperatureGroupSchema,
  uncooled: temperatureGroupSchema,
  pedestalDiffers: z.boolean().nullable(),
  points: z.array(
    z.object({
      exposureS: z.number(),
      levelChange: z.number(),
      levelDiffers: z.boolean(),
      jumpCooled: number,
      jumpUncooled: number,
      jumpDiffers: z.boolean(),
      /** Of each frame, ADU above the pedestal. */
      levelsCooledAdu: z.array(z.number()).optional(),
      levelsUncooledAdu: z.array(z.number()).optional(),
    }),
  ),
  text: z.string(),
})
/** The shortest exposure from which levels follow the exposure and stand still. */
export const floorSchema = z.object({
  floorS: number,
  points: z.array(floorPointSchema),
  text: z.string(),
  /** Where the frames were taken at two temperatures; the floor is then that of the cooled ones, if they are enough. */
  compared: floorComparisonSchema.optional(),
  /** The floor that the rules of the camera's class ask for. */
  rule: z.object({ class: sensorRulesSchema.shape.class, name: z.string(), floorS: z.number() }).optional(),
})

/** A frame of the log by its id, or a file that need not be logged. */
const which = {
  frame: z.number().int().positive().optional(),
  path: z.string().min(1).optional(),
}
const named = <T extends z.ZodRawShape>(shape: T) =>
  z
    .object({ ...which, ...shape })
    .refine(
      (ask) => ((ask as { frame?: number }).frame === undefined) !== ((ask as { path?: string }).path === undefined),
      {
        message: 'Name one frame, by its number in the log or by its file.',
      },
    )

/**
 * Each of these reads whole frames in a thread of its own and answers when it is done (about a second); the engine answers
 * everything else meanwhile. Progress comes as events of the job `check` or `proof`. Refused with a sentence that names the
 * nearest master and its differences where none should match. `master`: force this one.
 */
export const inspectRequests = {
  checkFlat: does(named({ master: z.number().int().positive().optional() }), flatCheckSchema),
  checkDark: does(named({ master: z.number().int().positive().optional() }), darkCheckSchema),
  /** `masters`: force these (a dark, a flat, or both). `out`: also write the calibrated light there, float32 FITS. */
  proof: does(
    named({ masters: z.array(z.number().int().positive()).max(2).default([]), out: z.string().min(1).optional() }),
    proofSchema,
  ),
  /** What was checked against a master, and proofs that used it, newest first. */
  checksOf: asks(
    z.object({ master: z.number().int().positive() }),
    z.object({ checks: z.array(z.discriminatedUnion('kind', [flatCheckSchema, darkCheckSchema, proofSchema])) }),
  ),
}

/** Figures of the sensor itself. */
export const sensorRequests = {
  /** Figures of sensors that are kept. */
  sensorFigures: asks(nothing, z.object({ sensors: z.array(sensorFiguresSchema) })),
  /** Measures every sensor for which the log holds pairs of flats and darks of one setting; keeps what comes out. */
  measureSensors: does(
    nothing,
    z.object({
      measured: z.array(sensorFiguresSchema),
      lacking: z.array(z.object({ camera: z.string(), text: z.string() })),
      /** Stopped on the way: what was measured until then is kept. */
      stopped: z.boolean().optional(),
    }),
  ),
  stopMeasuring: does(nothing, z.object({ stopped: z.boolean() })),
  /**
   * At least three exposures with two frames each, of one steady light source: files, or frames of the log. Frames at two sensor
   * temperatures more than 5 °C apart are compared, and one exposure is enough.
   */
  findFloor: does(
    z.object({
      paths: z.array(z.string().min(1)).default([]),
      frames: z.array(z.number().int().positive()).default([]),
    }),
    floorSchema,
  ),
}
