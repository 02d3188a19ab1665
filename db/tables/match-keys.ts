import { command, query, type Readable, type Writable } from '../handle.ts'

const find = query<{ id: number }, [string]>('SELECT id FROM match_keys WHERE text = ?')
const insert = command<[string]>('INSERT INTO match_keys (text) VALUES (?)')

/** The number that stands for this text of must-be-equal fields; made if it is new. */
export function keyId(db: Writable, text: string): number {
  return find.one(db, text)?.id ?? insert(db, text).id
}

/** The number of a key, or undefined if no frame has it. */
export const knownKeyId = (db: Readable, text: string): number | undefined => find.one(db, text)?.id
