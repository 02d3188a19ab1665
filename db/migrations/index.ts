import first from './0001-first.sql?raw'

export interface Migration {
  version: number
  sql: string
}

/** In order, without a gap. A published migration is never edited: a change is a new file. */
export const migrations: Migration[] = [{ version: 1, sql: first }]
