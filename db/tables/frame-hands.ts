import type { Kind } from '../../main/contract/index.ts'
import type { FrameFacts } from '../../main/frame/facts.ts'
import { command, query, type Readable, type Writable } from '../handle.ts'

/** What a person decided about a frame; null: as header and words say. */
export interface Hand {
  kind: Kind | null
  aside: boolean | null
}
type Row = { kind: Kind | null; aside: number | null }

const one = query<Row, [number]>('SELECT kind, aside FROM frame_hands WHERE frame_id = ?')
export function handOf(db: Readable, frameId: number): Hand | undefined {
  const row = one.one(db, frameId)
  return row && { kind: row.kind, aside: row.aside === null ? null : row.aside === 1 }
}

const put = command<[number, string | null, number | null, string]>(
  `INSERT INTO frame_hands (frame_id, kind, aside, at) VALUES (?, ?, ?, ?)
   ON CONFLICT DO UPDATE SET kind = excluded.kind, aside = excluded.aside, at = excluded.at`,
)
/** Keeps a decision; what the change leaves out stays as it was decided before. */
export function putHand(db: Writable, frameId: number, change: Partial<Hand>, at: string): void {
  const { kind, aside } = { kind: null, aside: null, ...handOf(db, frameId), ...change }
  put(db, frameId, kind, aside === null ? null : aside ? 1 : 0, at)
}

/** The facts of a frame with what was decided by hand laid over them. */
export function withHand(db: Readable, frameId: number, facts: FrameFacts): FrameFacts {
  const hand = handOf(db, frameId)
  if (!hand) return facts
  return {
    ...facts,
    ...(hand.kind !== null && { kind: hand.kind, kindFrom: 'user' as const }),
    ...(hand.aside !== null && { aside: hand.aside, asideWhy: hand.aside ? 'by hand' : null }),
  }
}
