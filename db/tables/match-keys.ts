import { command, memory, query, type Readable, type Writable } from '../handle.ts'

const find = query<{ id: number }, [string]>('SELECT id FROM match_keys WHERE text = ?')
const insert = command<[string]>('INSERT INTO match_keys (text) VALUES (?)')

const MOST_REMEMBERED = 10_000

/** The number that stands for this text of must-be-equal fields; made if it is new. */
export function keyId(db: Writable, text: string): number {
  const known = memory<string, number>(db, 'match keys')
  let id = known.get(text)
  if (id === undefined) {
    id = find.one(db, text)?.id ?? insert(db, text).id
    if (known.size >= MOST_REMEMBERED) known.clear()
    known.set(text, id)
  }
  return id
}

/** The number of a key, or undefined if no frame has it. */
export const knownKeyId = (db: Readable, text: string): number | undefined => find.one(db, text)?.id
