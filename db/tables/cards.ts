import { constants, deflateRawSync, inflateRawSync } from 'node:zlib'
import { command, memory, query, type Readable, type Writable } from '../handle.ts'

/**
 * Headers of one night differ in a few cards, so each is deflated against an earlier one: about 150 bytes instead of 5 760.
 * A million frames' cards would be up to 3 GB otherwise. A small window and the fastest level: this is on the way of every frame.
 */
const deflateOptions = { level: constants.Z_BEST_SPEED, windowBits: 14, memLevel: 1, chunkSize: 1024 }

/** zlib looks back no further. */
const WINDOW = 16_384
/** A header that shrinks less than this is of another sort and becomes a dictionary itself. */
const POOR = 1 / 6
/** So many sorts of headers are told apart at a time. */
const TRIED = 4

interface Dictionary {
  id: number
  bytes: Buffer
}

const newestDictionaries = query<Dictionary, [number]>(
  'SELECT id, bytes FROM card_dictionaries ORDER BY id DESC LIMIT ?',
)
const dictionaryById = query<Dictionary, [number]>('SELECT id, bytes FROM card_dictionaries WHERE id = ?')
const insertDictionary = command<[Buffer]>('INSERT INTO card_dictionaries (bytes) VALUES (?)')
const put = command<[number, number | null, number, Buffer]>(
  'INSERT OR REPLACE INTO cards (frame_id, dictionary_id, length, deflated) VALUES (?, ?, ?, ?)',
)
const get = query<{ dictionaryId: number | null; length: number; deflated: Buffer }, [number]>(
  'SELECT dictionary_id AS dictionaryId, length, deflated FROM cards WHERE frame_id = ?',
)

/** Keeps every card of a frame's header (the raw bytes, blocks of 2880). */
export function putCards(db: Writable, frameId: number, header: Buffer): void {
  const { id, deflated } = deflate(db, header)
  put(db, frameId, id, header.length, deflated)
}

/** Tries the newest dictionaries first: a night's lights and flats take turns, and each may have a sort of its own. */
function deflate(db: Writable, header: Buffer): { id: number; deflated: Buffer } {
  const newest = memory<'newest', Dictionary[]>(db, 'card dictionaries')
  let dictionaries = newest.get('newest')
  if (!dictionaries) newest.set('newest', (dictionaries = newestDictionaries.all(db, TRIED)))
  for (const { id, bytes } of dictionaries) {
    const deflated = deflateRawSync(header, { ...deflateOptions, dictionary: bytes })
    if (deflated.length <= header.length * POOR) return { id, deflated }
  }
  const bytes = Buffer.from(header.subarray(0, WINDOW))
  const { id } = insertDictionary(db, bytes)
  newest.set('newest', [{ id, bytes }, ...dictionaries].slice(0, TRIED))
  return { id, deflated: deflateRawSync(header, { ...deflateOptions, dictionary: bytes }) }
}

/** The raw header bytes of a frame, as they were read; undefined for an unknown frame. */
export function cardsOf(db: Readable, frameId: number): Buffer | undefined {
  const row = get.one(db, frameId)
  if (!row) return undefined
  const dictionary = row.dictionaryId === null ? undefined : dictionaryById.one(db, row.dictionaryId)?.bytes
  return inflateRawSync(row.deflated, { dictionary, maxOutputLength: row.length })
}
