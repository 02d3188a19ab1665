import { z } from 'zod'
import { FRAME_STATES, KINDS, LIGHT_SOURCES } from './words.ts'

const text = z.string().nullable()
const number = z.number().nullable()
/** GAIN and OFFSET are numbers for most cameras and labels ("HI") for some. */
const level = z.union([z.number(), z.string()]).nullable()

/** What a frame was taken with. What cannot be known is null, never a default. Temperatures in °C, exposures in s. */
export const settingsSchema = z.object({
  /** INSTRUME, as the header writes it. */
  camera: text,
  /** The one camera body: a serial number from the header, or the name that the user gave this rig's body. */
  body: text,
  width: number,
  height: number,
  /** Sub-frame origin, binned pixels, upper left; null where the header has none. */
  originX: number,
  originY: number,
  /** "1x1", "2x2", … */
  binning: text,
  readout: z.union([z.number(), z.string()]).nullable(),
  gain: level,
  offset: level,
  setTempC: number,
  sensorTempC: number,
  exposureS: number,
  filter: text,
  telescope: text,
  focalMm: number,
  /** Rotator angle, degrees. Part of a flat's key where there is a rotator. */
  mechAngleDeg: number,
  /** Position angle on the sky, degrees: evidence only, a mount's flip turns it by 180°. */
  skyAngleDeg: number,
  /** Colour filter array, four letters row by row from the first stored pixel ("RGGB"); null for mono. */
  cfa: text,
  rowOrder: text,
  /** Name of the rig (capture folder, camera, train) and of the train before it. */
  rig: text,
  train: text,
})
export type Settings = z.infer<typeof settingsSchema>

/** Two keywords of one setting that disagree, or a value whose meaning cannot be told: the setting is null, this says why. */
export const conflictSchema = z.object({
  setting: z.string(),
  found: z.array(z.object({ keyword: z.string(), value: z.union([z.string(), z.number(), z.boolean()]) })),
  /** One sentence for a person. */
  text: z.string(),
})
export type Conflict = z.infer<typeof conflictSchema>

/** Levels of one channel, ADU. */
export const channelSchema = z.object({ median: z.number(), mean: z.number() })

/** Figures of a frame's pixels, ADU (clipped*: pixel counts); see main/measure. */
export const figuresSchema = z.object({
  width: z.number(),
  height: z.number(),
  median: z.number(),
  mean: z.number(),
  sd: z.number(),
  min: z.number(),
  max: z.number(),
  clippedLow: z.number(),
  clippedHigh: z.number(),
  noise: z.number(),
  channels: z.object({ R: channelSchema, G: channelSchema, B: channelSchema }).nullable(),
})
export type Figures = z.infer<typeof figuresSchema>

/** One logged frame. Times are UTC, ISO 8601; `night` is the date on which its night began. */
export const frameSchema = settingsSchema.extend({
  id: z.number(),
  path: z.string(),
  kind: z.enum(KINDS),
  kindFrom: z.enum(['header', 'name', 'user']),
  target: text,
  startedAt: text,
  night: z.string(),
  aside: z.boolean(),
  /** Why it is aside ("focus" in its name), null if it is not. */
  asideWhy: text,
  state: z.enum(FRAME_STATES),
  /** Writing program and version, as the header has it. */
  program: text,
  /** Number of frames combined in this file (NCOMBINE, SNAPSHOT); more than 1 means a master, not a raw frame. */
  combined: number,
  /** True where the header (combined, "Master Dark") or the name says that many frames are in this file: no raw frame. */
  integrated: z.boolean().optional(),
  /** Gain in electrons per ADU where the header states it as that. */
  electronsPerAdu: number,
  pixelUm: number,
  siteLatDeg: number,
  siteLongDeg: number,
  /** Flats: what lit it, from its header or names, or as a person said; null until known. */
  lightSource: z.enum(LIGHT_SOURCES).nullable().optional(),
  conflicts: z.array(conflictSchema),
  figures: figuresSchema.nullable(),
})
export type Frame = z.infer<typeof frameSchema>
