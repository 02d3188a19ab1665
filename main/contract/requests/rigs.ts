import { z } from 'zod'
import { asks, does, nothing } from '../request.ts'
import { noticeSchema, shortfallSchema, trainChangeSchema } from '../night.ts'
import { sensorRulesSchema } from '../rules.ts'
import { ASIDE_REASONS, KINDS, SCOPES } from '../words.ts'

const name = z.string().trim().min(1, 'A rig needs a name.').max(60, 'A name of a rig has 60 letters at most.')
/** What a person calls a thing; blanks around it do not count, and nothing at all is refused rather than kept. */
const word = z
  .string()
  .trim()
  .min(1, 'Say what it is called, or leave it out.')
  .max(80, 'Say it in 80 letters at most.')
const moment = z
  .string()
  .refine((text) => !Number.isNaN(Date.parse(text)), 'A moment is written like 2026-11-20T22:15:00Z.')
  .transform((text) => new Date(text).toISOString())

export const placeSchema = z.object({
  name: z.string().nullable(),
  latDeg: z.number().min(-90, 'A latitude lies between −90 and 90.').max(90, 'A latitude lies between −90 and 90.'),
  longDeg: z
    .number()
    .min(-180, 'A longitude lies between −180 and 180, east positive.')
    .max(180, 'A longitude lies between −180 and 180, east positive.'),
})

/** What stands before which camera. `filter` is the one in a drawer: it counts where the header names none. */
const standing = {
  folder: z.string().nullable(),
  /** Where set, the rig speaks only for frames of this camera (INSTRUME). */
  camera: z.string().nullable(),
  body: z.string().nullable(),
  train: z.string().nullable(),
  filter: z.string().nullable(),
  site: placeSchema.nullable(),
}

/** As it stood from `since` (UTC) until the next; null: from the beginning. */
export const rigSpanSchema = z.object({ since: z.string().nullable(), ...standing })
export type RigSpanTold = z.infer<typeof rigSpanSchema>

/** A rig as it stands now, and as it stood before. */
export const rigSchema = z.object({
  name: z.string(),
  ...standing,
  /** Since when it stands like this (UTC); null: from the beginning. */
  since: z.string().nullable(),
  spans: z.array(rigSpanSchema),
  /** True where a filter was named for the drawer: leaving it means touching the rig. */
  filterByHand: z.boolean(),
  frames: z.number(),
  lastFrameAt: z.string().nullable(),
  /** Epoch of its whole train now, and when it began; null: no change was ever logged. */
  epoch: z.string(),
  epochSince: z.string().nullable(),
})
export type Rig = z.infer<typeof rigSchema>

/** A train change that headers hint at; offered, never applied by itself. */
export const suggestionSchema = z.object({
  id: z.string(),
  rig: z.string(),
  scope: z.enum(SCOPES),
  at: z.string(),
  text: z.string(),
  field: z.string(),
  before: z.union([z.number(), z.string()]),
  after: z.union([z.number(), z.string()]),
})

/** A logged change; `losing`: flats and dark flats that lights still need and that cannot be made up once it has happened. */
export const loggedChangeSchema = trainChangeSchema.extend({
  /** The epoch that it begins; null where it was taken back. */
  epoch: z.string().nullable(),
  losing: z.array(shortfallSchema),
})
export type LoggedChange = z.infer<typeof loggedChangeSchema>

/** A camera as headers name it, with the bodies known of it. */
export const cameraSchema = z.object({
  camera: z.string(),
  class: sensorRulesSchema.shape.class,
  /** Since when it is gone, all of that name; null while it is there. */
  goneAt: z.string().nullable(),
  bodies: z.array(z.object({ body: z.string(), goneAt: z.string().nullable() })),
})
export type Camera = z.infer<typeof cameraSchema>

const frames = z.array(z.number().int().positive()).min(1, 'Say which frames.')
const aCamera = z.object({ camera: word, body: word.nullable().default(null) })
/** Frames that are described or decided anew. */
const touched = z.object({
  frames: z.number(),
  /** The step that takes it back; null where nothing is told differently. */
  step: z.number().nullable().optional(),
})

export const rigRequests = {
  rigs: asks(nothing, z.object({ rigs: z.array(rigSchema) })),
  /**
   * Says what a rig is; it is made if it is new. Without `since`, what was never told before holds from the beginning, and
   * what was told otherwise holds from now on. Null forgets. Frames it speaks for are described again from their kept headers.
   */
  setRig: does(
    z.object({
      name,
      folder: word.max(4096).nullable().optional(),
      camera: word.nullable().optional(),
      body: word.nullable().optional(),
      train: word.nullable().optional(),
      filter: word.nullable().optional(),
      site: placeSchema.nullable().optional(),
      since: moment.optional(),
    }),
    z.object({ rig: rigSchema, frames: z.number() }),
  ),
  /** Another name for the same rig: frames, masters and train changes go with it. */
  renameRig: does(z.object({ name, to: name }), z.object({ rig: rigSchema })),
  /** Forgets a rig; its frames and its logged train changes stay. */
  removeRig: does(z.object({ name }), touched),

  /** Every train change, newest first, those taken back included. */
  trainChanges: asks(nothing, z.object({ changes: z.array(trainChangeSchema) })),
  /** `rig` may be left out while there is only one; `at` is now where left out, and never in the future. */
  logTrainChange: does(
    z.object({
      text: z.string().trim().min(1, 'Say what was changed.').max(500, 'Say it in 500 letters at most.'),
      rig: name.optional(),
      scope: z.enum(SCOPES).default('train'),
      filter: word.nullable().default(null),
      at: moment.optional(),
    }),
    z.object({ change: loggedChangeSchema }),
  ),
  undoTrainChange: does(z.object({ id: z.number().int() }), z.object({ change: loggedChangeSchema })),
  /**
   * "I'm taking it apart". Without `confirm` it only looks: what would be lost. With it, the same is answered and the epoch
   * closes with a logged change.
   */
  takeApart: does(
    z.object({
      rig: name.optional(),
      confirm: z.boolean().default(false),
      text: z.string().trim().max(500).optional(),
    }),
    z.object({
      rig: z.string(),
      losing: z.array(shortfallSchema),
      notices: z.array(noticeSchema),
      /** Null where it was only looked at. */
      change: loggedChangeSchema.nullable(),
    }),
  ),
  suggestedChanges: asks(nothing, z.object({ suggestions: z.array(suggestionSchema) })),
  /** Logs what a suggestion says, in its words or in yours. */
  confirmChange: does(
    z.object({ id: z.string(), text: z.string().trim().max(500).optional(), scope: z.enum(SCOPES).optional() }),
    z.object({ change: loggedChangeSchema }),
  ),
  /** It was no change: it is not offered again. */
  dismissChange: does(z.object({ id: z.string() }), nothing),

  /** Frames that need nothing (a trial, culled), by hand; `frameIds` of a run are such a list. */
  setAside: does(z.object({ frames, why: z.enum(ASIDE_REASONS).optional() }), touched),
  /** Back into every need, whatever word had set them aside. */
  unsetAside: does(z.object({ frames }), touched),
  /** What these frames are, whatever their header says; null: as the header says again. */
  setKind: does(z.object({ frames, kind: z.enum(KINDS).nullable() }), touched),

  cameras: asks(nothing, z.object({ cameras: z.array(cameraSchema) })),
  /** Its darks can't come any more: `missing` instead of `due`. Without `body`, all of that name. */
  markCameraGone: does(aCamera, z.object({ camera: cameraSchema })),
  cameraBack: does(aCamera, z.object({ camera: cameraSchema })),
  setCameraClass: does(
    z.object({ camera: word, class: sensorRulesSchema.shape.class }),
    z.object({ camera: cameraSchema }),
  ),
}
