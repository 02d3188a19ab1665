import { deflateSync, inflateSync } from 'node:zlib'
import { command, memory, query, type Readable, type Writable } from '../handle.ts'
import { applyDelta, deltaOf } from '../header-delta.ts'

/** A header that differs in more than this from every recent pattern is of another sort and becomes a pattern itself. */
const POOR = 1 / 5
/** So many sorts of headers are told apart at a time: a night's lights, flats and darks take turns. */
const TRIED = 6

interface Pattern {
  id: number
  bytes: Buffer
}
interface PatternRow {
  id: number
  length: number
  deflated: Buffer
}

const newestPatterns = query<PatternRow, [number]>(
  'SELECT id, length, deflated FROM header_patterns ORDER BY id DESC LIMIT ?',
)
const insertPattern = command<[number, Buffer]>('INSERT INTO header_patterns (length, deflated) VALUES (?, ?)')
const put = command<[number, number, Buffer]>(
  'INSERT OR REPLACE INTO cards (frame_id, pattern_id, delta) VALUES (?, ?, ?)',
)
const get = query<PatternRow & { delta: Buffer }, [number]>(
  `SELECT header_patterns.id, length, deflated, delta FROM cards JOIN header_patterns ON header_patterns.id = pattern_id
    WHERE frame_id = ?`,
)

const inflate = ({ length, deflated }: PatternRow) => inflateSync(deflated, { maxOutputLength: length })

/** Keeps every card of a frame's header (the raw bytes, blocks of 2880). A million frames' would be up to 3 GB as they are. */
export function putCards(db: Writable, frameId: number, header: Uint8Array): void {
  const { id, delta } = code(db, header)
  put(db, frameId, id, delta)
}

function code(db: Writable, header: Uint8Array): { id: number; delta: Buffer } {
  const known = memory<'newest', Pattern[]>(db, 'header patterns')
  let patterns = known.get('newest')
  if (!patterns) {
    patterns = newestPatterns.all(db, TRIED).map((row) => ({ id: row.id, bytes: inflate(row) }))
    known.set('newest', patterns)
  }
  for (const { id, bytes } of patterns) {
    const delta = deltaOf(bytes, header, header.length * POOR)
    if (delta) return { id, delta }
  }
  const bytes = Buffer.from(header)
  const { id } = insertPattern(db, bytes.length, deflateSync(bytes))
  known.set('newest', [{ id, bytes }, ...patterns].slice(0, TRIED))
  return { id, delta: Buffer.alloc(0) }
}

/** The raw header bytes of a frame, as they were read; undefined for an unknown frame. */
export function cardsOf(db: Readable, frameId: number): Buffer | undefined {
  const row = get.one(db, frameId)
  return row && applyDelta(inflate(row), row.delta)
}
