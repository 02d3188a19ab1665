import { z } from 'zod'
import { frameSchema, settingsSchema } from './frame.ts'
import { KINDS, LIGHT_SOURCES, RULES, SCOPES, URGENCIES, VERDICTS } from './words.ts'

const costSchema = z.object({ mean: z.number(), tail: z.number(), glow: z.number() })
const value = z.union([z.number(), z.string()]).nullable()

/** One field in which the nearest master does not agree. `light` is the value of the frame that needs it (light or flat). */
export const differenceSchema = z.object({
  field: z.string(),
  light: value,
  master: value,
  costE: costSchema.optional(),
  costAdu: costSchema.optional(),
})
export type Difference = z.infer<typeof differenceSchema>

/** The answer for one frame and one kind of master. `text` is for people, the fields are for programs. */
export const verdictSchema = z.object({
  verdict: z.enum(VERDICTS),
  master: z.number().nullable(),
  nearest: z.number().nullable(),
  differences: z.array(differenceSchema),
  text: z.string(),
})
export type Verdict = z.infer<typeof verdictSchema>

/** What a frame needs, by kind of master. A light has dark and flat; a flat has darkFlat; other kinds have none. */
export const verdictsSchema = z.object({
  dark: verdictSchema.optional(),
  flat: verdictSchema.optional(),
  darkFlat: verdictSchema.optional(),
})
export type Verdicts = z.infer<typeof verdictsSchema>

const countsSchema = z.partialRecord(z.enum(VERDICTS), z.number())
/** A run's verdict is its worst frame's, with the number of frames of each word. */
export const runVerdictSchema = verdictSchema.extend({ counts: countsSchema })
export type RunVerdict = z.infer<typeof runVerdictSchema>

/** The frames of a night with the same kind, settings and target; other runs may take turns with it. */
export const runSchema = settingsSchema.extend({
  /** Stable for the same frames: made of night, kind, key settings and target. */
  id: z.string(),
  kind: z.enum(KINDS),
  target: z.string().nullable(),
  night: z.string(),
  aside: z.boolean(),
  frames: z.number(),
  frameIds: z.array(z.number()),
  /** When each of `frameIds` began, seconds after `firstAt` to the tenth; null where its time is not known. */
  startsS: z.array(z.number().nullable()).optional(),
  firstAt: z.string().nullable(),
  lastAt: z.string().nullable(),
  totalS: z.number(),
  /** Flats: what lit them, where all say the same. */
  lightSource: z.enum(LIGHT_SOURCES).nullable().optional(),
  verdicts: z.object({
    dark: runVerdictSchema.optional(),
    flat: runVerdictSchema.optional(),
    darkFlat: runVerdictSchema.optional(),
  }),
})
export type Run = z.infer<typeof runSchema>

/** Something that the user should know now; opens once, closes itself when it no longer holds. `frames` is a count. */
export const noticeSchema = z.object({
  id: z.string(),
  rule: z.enum(RULES),
  severity: z.enum(URGENCIES),
  text: z.string(),
  why: z.string(),
  frames: z.number(),
  /** Which frames, for "show me". */
  frameIds: z.array(z.number()),
  openedAt: z.string(),
  acknowledged: z.boolean(),
  /** The master that it is about, where it is about one. */
  master: z.number().optional(),
  /** Only `actNow` sounds, once. */
  sounds: z.boolean(),
})
export type Notice = z.infer<typeof noticeSchema>

/** One run still to be shot. `lights` is the number of lights that wait for it, `lightS` their exposure in seconds. */
export const shortfallSchema = z.object({
  id: z.string(),
  kind: z.enum(['dark', 'flat', 'darkFlat']),
  settings: settingsSchema.partial(),
  count: z.number(),
  /** Frames of this key that are there already, raw and not yet built. */
  have: z.number(),
  seconds: z.number(),
  urgency: z.enum(URGENCIES),
  lights: z.number(),
  lightS: z.number(),
  reason: z.string(),
  /** Safety and care sentences that belong to this row. */
  cautions: z.array(z.string()),
})
export type Shortfall = z.infer<typeof shortfallSchema>

/** A logged moment at which a rig was touched. Taken back ones stay in the log with `undoneAt`. */
export const trainChangeSchema = z.object({
  id: z.number(),
  rig: z.string(),
  scope: z.enum(SCOPES),
  /** For scope `filter`: which one. */
  filter: z.string().nullable(),
  at: z.string(),
  text: z.string(),
  /** True for "I'm taking it apart": the epoch closed with a last look. */
  closes: z.boolean(),
  undoneAt: z.string().nullable(),
})
export type TrainChange = z.infer<typeof trainChangeSchema>

/** The Sun over the night, where a site is known; UTC. Null where it does not get there. */
export const sunSchema = z.object({
  sunsetAt: z.string().nullable(),
  /** 12° below the horizon: the end of nautical twilight, where lights begin and end. */
  duskAt: z.string().nullable(),
  dawnAt: z.string().nullable(),
  /** 18° below the horizon: the end of astronomical twilight, as dark as it gets. */
  darkestFrom: z.string().nullable().optional(),
  darkestTo: z.string().nullable().optional(),
  sunriseAt: z.string().nullable(),
})

export const statusSchema = z.object({
  night: z.string(),
  runs: z.array(runSchema),
  notices: z.array(noticeSchema),
  shortfall: z.array(shortfallSchema),
  figuresPending: z.number(),
})
export type Status = z.infer<typeof statusSchema>

/** What Tonight shows: the status of the night, and the frame that landed last on each rig with its verdicts. */
export const tonightSchema = statusSchema.extend({
  now: z.string(),
  latest: z.array(
    z.object({ rig: z.string().nullable(), frame: frameSchema, verdicts: verdictsSchema, number: z.number() }),
  ),
  changes: z.array(trainChangeSchema),
  sun: sunSchema.nullable(),
  site: z.object({ name: z.string().nullable(), latDeg: z.number(), longDeg: z.number() }).nullable(),
  folders: z.array(z.object({ path: z.string(), reachable: z.boolean() })),
  /** When the next frame should land, from the run's own pace; null when none is expected. */
  nextFrameAt: z.string().nullable(),
  /** Hours of room on the capture disk at tonight's pace. */
  roomH: z.number().nullable(),
  /** True while a backlog is being logged. */
  catchingUp: z.object({ done: z.number(), total: z.number() }).nullable(),
})
export type Tonight = z.infer<typeof tonightSchema>
