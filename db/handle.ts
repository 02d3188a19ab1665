import type BetterSqlite3 from 'better-sqlite3'
import { writeRefusalOf } from './refusal-of.ts'

declare const readable: unique symbol
declare const writable: unique symbol

/** A database that may be read. A function that takes this handle does not write. */
export type Readable = BetterSqlite3.Database & { readonly [readable]: true }
/** A database that may be written; it can be read too. Statements that belong together run inside `immediately`. */
export type Writable = Readable & { readonly [writable]: true }

type Statements = Map<string, BetterSqlite3.Statement>
const statements = new WeakMap<BetterSqlite3.Database, Statements>()

/** The prepared statement of this text on this database, prepared once. */
function prepared(db: Readable, sql: string): BetterSqlite3.Statement {
  let known = statements.get(db)
  if (!known) statements.set(db, (known = new Map()))
  let statement = known.get(sql)
  if (!statement) known.set(sql, (statement = db.prepare(sql)))
  return statement
}

type Bound = string | number | bigint | Buffer | null
export type Values = Bound[] | [Record<string, Bound>]

/** A typed query: `one` is undefined where no row fits. */
export function query<Row, P extends Values = []>(sql: string) {
  return {
    one: (db: Readable, ...values: P) => prepared(db, sql).get(...values) as Row | undefined,
    all: (db: Readable, ...values: P) => prepared(db, sql).all(...values) as Row[],
    each: (db: Readable, ...values: P) => prepared(db, sql).iterate(...values) as IterableIterator<Row>,
  }
}

/** A query whose one row comes as the bare values of its columns, in order: many columns, read many times. */
export const values =
  <P extends Values = []>(sql: string) =>
  (db: Readable, ...bound: P): unknown[] | undefined =>
    // Said with a blank more, so that nobody who asks the same for an object shares the statement.
    prepared(db, `${sql} `)
      .raw()
      .get(...bound) as unknown[] | undefined

/** A typed statement that writes: says how many rows it changed, and the id of the one that it inserted. */
export function command<P extends Values = []>(sql: string) {
  return (db: Writable, ...values: P): { changes: number; id: number } => {
    const { changes, lastInsertRowid } = prepared(db, sql).run(...values)
    return { changes, id: Number(lastInsertRowid) }
  }
}

/**
 * Runs `work` in one transaction that takes the write lock at once (BEGIN IMMEDIATE): two writers wait for each other
 * instead of failing half way. Whatever is thrown inside undoes all of it. Inside another transaction it is a part of that.
 * @throws Refusal, in a sentence, for what the disk does to the database (full, failing, locked too long)
 */
export function immediately<T>(db: Writable, work: () => T): T {
  if (db.inTransaction) return work()
  try {
    return db.transaction(work).immediate()
  } catch (error) {
    memories.delete(db)
    throw writeRefusalOf(error, db.name)
  }
}

const memories = new WeakMap<BetterSqlite3.Database, Map<string, Map<unknown, unknown>>>()

/**
 * A memory of rows that never change once they are written, by name: spares a look-up for each frame. A transaction that
 * fails clears it, since what it remembers may never have been committed.
 */
export function memory<K, V>(db: Readable, name: string): Map<K, V> {
  let own = memories.get(db)
  if (!own) memories.set(db, (own = new Map()))
  let map = own.get(name)
  if (!map) own.set(name, (map = new Map()))
  return map as Map<K, V>
}

/** Grows by one whenever another connection (the command line, a window) has changed the database. */
export const dataVersion = (db: Readable): number => db.pragma('data_version', { simple: true }) as number
