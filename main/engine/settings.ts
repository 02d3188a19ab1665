import { z } from 'zod'
import { defaultTolerances, KINDS, sensorRulesSchema, tolerancesSchema, type Tolerances } from '../contract/index.ts'
import type { MatchContext } from '../match/context.ts'
import { sensorRulesFor, type SensorChoice } from '../rules/sensor-rules.ts'
import type { Readable } from '../../db/handle.ts'
import { allChecks } from '../../db/tables/checks.ts'
import { cameraRecords } from '../../db/tables/cameras.ts'
import { setting } from '../../db/tables/settings.ts'
import { trainChanges } from '../../db/tables/train-changes.ts'

const siteSchema = z.object({ name: z.string().nullable(), latDeg: z.number(), longDeg: z.number() })
export type Site = z.infer<typeof siteSchema>

const editedRulesSchema = z.partialRecord(z.enum(['glow', 'quiet', 'yours']), sensorRulesSchema)

/** Classes of sensors whose rules the user edited. */
export const editedRulesOf = (db: Readable) => editedRulesSchema.parse(setting(db, 'sensorRules') ?? {})

const wordsSchema = z.object({
  filterAliases: z.record(z.string(), z.string()).optional(),
  kindWords: z.record(z.string(), z.enum(KINDS)).optional(),
  asideWords: z.array(z.string()).optional(),
})

/** The user's own words for filters, kinds and what stands aside. */
export const wordsOf = (db: Readable) => wordsSchema.parse(setting(db, 'words') ?? {})

/** Whether lights are dithered; null until told. */
export const ditherOf = (db: Readable): boolean | null =>
  z
    .boolean()
    .nullable()
    .parse(setting(db, 'dither') ?? null)

/** Tolerances as the user set them, the rest as delivered. */
export const tolerancesOf = (db: Readable): Tolerances => ({
  ...defaultTolerances,
  ...tolerancesSchema.partial().parse(setting(db, 'tolerances') ?? {}),
})

/** The site that the user named, if any. */
export const siteSetting = (db: Readable): Site | null => siteSchema.nullable().parse(setting(db, 'site') ?? null)

/** Everything besides masters and raw frames that verdicts depend on, as it stands in the database. */
export function matchContextOf(db: Readable, now: string): Omit<MatchContext, 'raw' | 'twins'> {
  const cameras = cameraRecords(db)
  const classOf: SensorChoice['classOf'] = Object.fromEntries(
    cameras.flatMap((camera) => (camera.class ? [[camera.camera, camera.class]] : [])),
  )
  return {
    now,
    tolerances: tolerancesOf(db),
    sensorRules: sensorRulesFor({ classOf, edited: editedRulesOf(db) }),
    changes: trainChanges(db),
    gone: cameras.flatMap((camera) => (camera.goneAt ? [camera.body || camera.camera] : [])),
    proofs: allChecks(db).flatMap((check) =>
      check.holds && check.undoneAt === null && check.masterId !== null
        ? [{ master: check.masterId, at: check.at }]
        : [],
    ),
  }
}
