import { command, query, type Readable, type Writable } from '../handle.ts'

const get = query<{ value: string }, [string]>('SELECT value FROM settings WHERE name = ?')
const put = command<[string, string]>(
  'INSERT INTO settings (name, value) VALUES (?, ?) ON CONFLICT DO UPDATE SET value = excluded.value',
)

/** A setting as it was written, or undefined; the caller validates it. */
export function setting(db: Readable, name: string): unknown {
  const row = get.one(db, name)
  return row && JSON.parse(row.value)
}

export const putSetting = (db: Writable, name: string, value: unknown): void =>
  void put(db, name, JSON.stringify(value))

const drop = command<[string]>('DELETE FROM settings WHERE name = ?')
export const dropSetting = (db: Writable, name: string): void => void drop(db, name)
