import type { MasterAnswers } from '../../main/contract/index.ts'
import { command, query, type Readable, type Writable } from '../handle.ts'
import { code, decode, type Coded } from './cards.ts'

/** The header that was kept of a master, and what was told of it. */
export interface MasterCards {
  id: number
  /** Where it stood when it was taken in: its name and folders may say something. */
  path: string
  width: number | null
  height: number | null
  bytes: Buffer
  answers: MasterAnswers
}

const put = command<[number, number, Buffer, string]>(
  'INSERT OR REPLACE INTO master_cards (master_id, pattern_id, delta, answers) VALUES (?, ?, ?, ?)',
)
/** Keeps every card of a master's header (the raw bytes, blocks of 2880) with what was told of it. */
export function putMasterCards(db: Writable, masterId: number, header: Uint8Array, answers: MasterAnswers): void {
  const { id, delta } = code(db, header)
  put(db, masterId, id, delta, JSON.stringify(answers))
}

const tell = command<[string, number]>('UPDATE master_cards SET answers = ? WHERE master_id = ?')
/** @returns false where no header of it is kept */
export const putAnswersOfMaster = (db: Writable, masterId: number, answers: MasterAnswers): boolean =>
  tell(db, JSON.stringify(answers), masterId).changes === 1

type Row = Omit<MasterCards, 'bytes' | 'answers'> & Coded & { answers: string }
const named = 'masters.id, coalesce(copied_from, path) AS path'
const kept = 'FROM master_cards JOIN masters ON masters.id = master_id'
const one = query<Row, [number]>(
  `SELECT ${named}, width, height, pattern_id AS patternId, delta, answers ${kept} WHERE master_id = ?`,
)
const ids = query<{ id: number; path: string }>(`SELECT ${named} ${kept}`)

export function cardsOfMaster(db: Readable, masterId: number): MasterCards | undefined {
  const row = one.one(db, masterId)
  if (!row) return undefined
  const { patternId, delta, answers, ...about } = row
  return { ...about, bytes: decode(db, { patternId, delta }), answers: JSON.parse(answers) as MasterAnswers }
}

/** Masters of which a header is kept. */
export const mastersWithCards = (db: Readable) => ids.all(db)

const lacking = query<{ id: number; path: string; file: string }>(
  `SELECT ${named}, path AS file FROM masters WHERE built = 0 AND state != 'damaged'
     AND NOT EXISTS (SELECT 1 FROM master_cards WHERE master_id = masters.id) ORDER BY id`,
)
/** Masters made elsewhere that were taken in before their headers were kept, each with the file that it is now. */
export const mastersWithoutCards = (db: Readable) => lacking.all(db)

const forget = command<[number]>('DELETE FROM master_cards WHERE master_id = ?')
export const forgetMasterCards = (db: Writable, masterId: number): void => void forget(db, masterId)
