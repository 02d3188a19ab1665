import { z } from 'zod'
import { asks, does, nothing } from '../request.ts'
import { masterSchema, SCALES, SUBTRACTED } from '../master.ts'
import { settingsSchema } from '../frame.ts'
import { LIGHT_SOURCES, MASTER_KINDS, VERDICTS } from '../words.ts'

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
    /** What lit a flat's frames: comes before the header. */
    lightSource: z.enum(LIGHT_SOURCES),
  })
  .partial()
export type MasterAnswers = z.infer<typeof masterAnswersSchema>

export const refusalSchema = z.object({
  path: z.string(),
  reason: z.string(),
  lacks: z.array(z.string()),
  /** What the file's name seems to state of what is lacking, by field. Offered to a person, never taken. */
  suggests: z.record(z.string(), z.string()).optional(),
  /** The file that a page sent, where it was that. */
  incoming: z.string().optional(),
})

const numbers = z.array(z.number().nullable())
/** Each a place in the page's `texts`; -1 where not known. */
const places = z.array(z.number().int())
/**
 * Masters as columns, one entry a master in each, so that a hundred thousand of them cross the border in a moment. `kind` and `state` are places
 * in MASTER_KINDS and MASTER_STATES, times are ms since 1970.
 */
export const shelfPageSchema = z.object({
  /** Another whenever a master is: pages of two versions do not belong together. */
  version: z.string(),
  total: z.number(),
  texts: z.array(z.string()),
  columns: z.object({
    id: z.array(z.number().int()),
    kind: z.array(z.number().int()),
    state: z.array(z.number().int()),
    camera: places,
    body: places,
    filter: places,
    telescope: places,
    train: places,
    rig: places,
    binning: places,
    program: places,
    readout: places,
    gain: places,
    offset: places,
    width: numbers,
    height: numbers,
    setTempC: numbers,
    sensorTempC: numbers,
    exposureS: numbers,
    frames: numbers,
    madeAtMs: numbers,
    provenAtMs: numbers,
    /** ADU. */
    noise: numbers,
    /** 1 where scale and history are known; else the master stays unconfirmed. */
    confirmed: z.array(z.number().int()),
    /** 1 for a bias frame of a sensor whose rules want none. */
    unwanted: z.array(z.number().int()),
  }),
})
export type ShelfPage = z.infer<typeof shelfPageSchema>

/** Lights (or flats, which need dark flats) of all nights that ask the same of a dark, and what there is for them. */
export const coverageNeedSchema = z.object({
  kind: z.enum(['dark', 'darkFlat']),
  /** The worst of its frames'. */
  verdict: z.enum(VERDICTS),
  counts: z.partialRecord(z.enum(VERDICTS), z.number()),
  settings: settingsSchema.partial(),
  nearest: z.number().nullable(),
  text: z.string(),
  frames: z.number(),
  totalS: z.number(),
  firstNight: z.string(),
  lastNight: z.string(),
  tonight: z.boolean(),
})
export type CoverageNeed = z.infer<typeof coverageNeedSchema>

const byId = z.object({ id: z.number().int() })
export const libraryRequests = {
  library: asks(nothing, z.object({ masters: z.array(masterSchema) })),
  master: asks(byId, z.object({ master: masterSchema.nullable() })),
  /** The shelf page by page, by id from `after` on: each page is quickly made, so nothing waits for the whole of a large one. */
  shelf: asks(
    z.object({ after: z.number().int().default(0), most: z.number().int().min(1).max(20_000).default(20_000) }),
    shelfPageSchema,
  ),
  /** What tonight's and earlier lights and flats ask of darks and dark flats; `used` and `near`: masters that they match, or nearly. */
  coverage: asks(
    nothing,
    z.object({
      needs: z.array(coverageNeedSchema),
      used: z.array(z.number()),
      near: z.array(z.number()),
      nights: z.number(),
    }),
  ),
  /** The nights whose lights (for a dark flat: flats) are matched to this master, newest first. */
  masterNights: asks(
    byId,
    z.object({ nights: z.array(z.object({ night: z.string(), frames: z.number(), totalS: z.number() })) }),
  ),
  addMasters: does(
    z.object({
      /** Files, or folders of them, on the engine's machine. */
      paths: z.array(z.string()).default([]),
      /** Files that a page has sent, by the names that it was given for them. */
      incoming: z.array(z.string().regex(/^[\w-]{16,64}$/)).default([]),
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
  /**
   * What lit a flat master's frames, whatever headers say; null: as they say again. Of one whose frames are in the log, these are told.
   * `step` takes it back; null where nothing is told differently.
   */
  setMasterLight: does(
    z.object({ id: z.number().int().positive(), source: z.enum(LIGHT_SOURCES).nullable() }),
    z.object({ master: masterSchema, step: z.number().nullable() }),
  ),
  retireMaster: does(byId, z.object({ master: masterSchema })),
  restoreMaster: does(byId, z.object({ master: masterSchema })),
  /** Reads every master's file again, or those of these. */
  verifyLibrary: does(
    z.object({ ids: z.array(z.number().int()).optional() }).strict(),
    z.object({ ok: z.number(), damaged: z.array(z.object({ id: z.number(), path: z.string(), reason: z.string() })) }),
  ),
}
