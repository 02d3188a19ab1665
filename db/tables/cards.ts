import { deflateSync, inflateSync } from 'node:zlib'
import type { Frame } from '../../main/contract/index.ts'
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
/** A header as what it differs in from a pattern. */
export interface Coded {
  patternId: number
  delta: Buffer
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
const get = query<Coded, [number]>('SELECT pattern_id AS patternId, delta FROM cards WHERE frame_id = ?')
const patternById = query<PatternRow, [number]>('SELECT id, length, deflated FROM header_patterns WHERE id = ?')
const keptById = query<Omit<KeptHeader, 'bytes'> & Coded, [number]>(
  `SELECT frames.path, width, height, state, night, modified_ms AS modifiedMs, pattern_id AS patternId, delta
     FROM frames JOIN cards ON cards.frame_id = frames.id LEFT JOIN files ON files.path = frames.path WHERE frames.id = ?`,
)

const inflate = ({ length, deflated }: PatternRow) => inflateSync(deflated, { maxOutputLength: length })

/** Keeps every card of a frame's header (the raw bytes, blocks of 2880). A million frames' would be up to 3 GB as they are. */
export function putCards(db: Writable, frameId: number, header: Uint8Array): void {
  const { id, delta } = code(db, header)
  put(db, frameId, id, delta)
}

/** A header as what it differs in from a pattern, which may be itself. */
export function code(db: Writable, header: Uint8Array): { id: number; delta: Buffer } {
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
  return row && decode(db, row)
}

/** Patterns that are kept inflated: a night has a handful. */
const MOST_PATTERNS = 200

/** The raw bytes again. */
export function decode(db: Readable, { patternId, delta }: Coded): Buffer {
  const known = memory<number, Buffer>(db, 'header patterns by id')
  let pattern = known.get(patternId)
  if (!pattern) {
    pattern = inflate(patternById.one(db, patternId)!)
    if (known.size >= MOST_PATTERNS) known.clear()
    known.set(patternId, pattern)
  }
  return applyDelta(pattern, delta)
}

/** What describing a frame anew needs of it. */
export interface KeptHeader {
  path: string
  width: number | null
  height: number | null
  state: Frame['state']
  night: string
  /** Of its file, ms; null where that is gone. */
  modifiedMs: number | null
  bytes: Buffer
}

/** The header that was kept of a frame, and where it stands; undefined for an unknown frame. */
export function keptHeader(db: Readable, frameId: number): KeptHeader | undefined {
  const row = keptById.one(db, frameId)
  return row && { ...row, bytes: decode(db, row) }
}
