import type { Readable } from '../../../db/handle.ts'
import { rigSpans } from '../../../db/tables/rigs.ts'
import { programAnswers, userSpellings } from '../../../db/tables/spellings.ts'
import { wordsOf } from '../settings.ts'
import { describerOf, type DescribeContext, type Describer } from './describe-file.ts'

export { isBelow, rigOf, type DescribedFile, type Describer } from './describe-file.ts'

/** The user's own spellings, words and rigs, as they stand in the database now. */
export const describeContextOf = (db: Readable, zone: string): DescribeContext => ({
  frame: { spellings: userSpellings(db), programs: programAnswers(db), ...wordsOf(db), zone, rig: null },
  spans: rigSpans(db),
})

/** Describes frames as the user's own spellings, words and rigs say, as they stand in the database now. */
export const createDescriber = (db: Readable, zone: string): Describer => describerOf(describeContextOf(db, zone))
