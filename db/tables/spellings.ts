import type { ProgramAnswer, Spelling } from '../../main/frame/dictionary.ts'
import { command, query, type Readable, type Writable } from '../handle.ts'

type Row<T> = { [K in keyof T]-?: T[K] | null }

const spellingRows = query<Row<Spelling>>('SELECT keyword, setting, unit FROM header_spellings ORDER BY keyword')
/** The user's own header spellings. */
export const userSpellings = (db: Readable): Spelling[] =>
  spellingRows.all(db).map(({ unit, ...rest }) => ({ ...rest, ...(unit && { unit }) }) as Spelling)

const spell = command<[string, string, string | null]>(
  `INSERT INTO header_spellings (keyword, setting, unit) VALUES (?, ?, ?)
   ON CONFLICT DO UPDATE SET setting = excluded.setting, unit = excluded.unit`,
)
export const putSpelling = (db: Writable, { keyword, setting, unit }: Spelling): void =>
  void spell(db, keyword.toUpperCase(), setting, unit ?? null)

const answerRows = query<Row<ProgramAnswer>>(
  'SELECT program, keyword, means, unit FROM program_answers ORDER BY program, keyword',
)
/** What was answered about the keywords of writing programs. */
export const programAnswers = (db: Readable): ProgramAnswer[] =>
  answerRows.all(db).map(({ unit, ...rest }) => ({ ...rest, ...(unit && { unit }) }) as ProgramAnswer)

const answer = command<[string, string, string, string | null, string]>(
  `INSERT INTO program_answers (program, keyword, means, unit, answered_at) VALUES (?, ?, ?, ?, ?)
   ON CONFLICT DO UPDATE SET means = excluded.means, unit = excluded.unit, answered_at = excluded.answered_at`,
)
export const putProgramAnswer = (db: Writable, { program, keyword, means, unit }: ProgramAnswer, at: string): void =>
  void answer(db, program, keyword.toUpperCase(), means, unit ?? null, at)

const unspell = command<[string]>('DELETE FROM header_spellings WHERE keyword = ?')
export const removeSpelling = (db: Writable, keyword: string): boolean =>
  unspell(db, keyword.toUpperCase()).changes === 1

const unanswer = command<[string, string]>('DELETE FROM program_answers WHERE program = ? AND keyword = ?')
export const removeProgramAnswer = (db: Writable, program: string, keyword: string): boolean =>
  unanswer(db, program, keyword.toUpperCase()).changes === 1
