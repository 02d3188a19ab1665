import { query, type Readable } from '../handle.ts'

const counted = "kind = 'light' AND aside = 0"
// From each name to the next in the index, which holds a hundred thousand lights of one name.
const names = query<{ target: string }>(
  `WITH RECURSIVE names (target) AS (
     SELECT min(target) FROM frames WHERE ${counted} AND target IS NOT NULL
     UNION ALL
     SELECT (SELECT min(target) FROM frames WHERE ${counted} AND target > names.target) FROM names WHERE target IS NOT NULL)
   SELECT target FROM names WHERE target IS NOT NULL`,
)
/** Every name under which lights were taken that are in use. */
export const allTargets = (db: Readable): string[] => names.all(db).map(({ target }) => target)

/** What was taken of one target in a night. */
export interface TargetNight {
  night: string
  lights: number
  lightS: number
}
const nights = query<TargetNight, [string]>(
  `SELECT night, count(*) AS lights, coalesce(sum(exposure_s), 0) AS lightS FROM frames
    WHERE ${counted} AND target = ? GROUP BY night`,
)
export const nightsOfTarget = (db: Readable, target: string): TargetNight[] => nights.all(db, target)
