import type { AsideReason, Kind, LightSource } from '../../main/contract/index.ts'
import type { FrameFacts } from '../../main/frame/facts.ts'
import { command, query, type Readable, type Writable } from '../handle.ts'

/** What a person decided about a frame; null: as header and words say. */
export interface Hand {
  kind: Kind | null
  aside: boolean | null
  /** With which word it was set aside; null: none was given. */
  asideWhy: AsideReason | null
  /** What lit a flat. */
  lightSource: LightSource | null
}
/** Nothing was decided. */
export const noHand: Hand = { kind: null, aside: null, asideWhy: null, lightSource: null }
type Row = Omit<Hand, 'aside'> & { aside: number | null }

const one = query<Row, [number]>(
  'SELECT kind, aside, aside_why AS asideWhy, light_source AS lightSource FROM frame_hands WHERE frame_id = ?',
)
export function handOf(db: Readable, frameId: number): Hand | undefined {
  const row = one.one(db, frameId)
  return row && { ...row, aside: row.aside === null ? null : row.aside === 1 }
}

const put = command<[number, string | null, number | null, string | null, string | null, string]>(
  `INSERT INTO frame_hands (frame_id, kind, aside, aside_why, light_source, at) VALUES (?, ?, ?, ?, ?, ?)
   ON CONFLICT DO UPDATE SET kind = excluded.kind, aside = excluded.aside, aside_why = excluded.aside_why,
     light_source = excluded.light_source, at = excluded.at`,
)
/** Keeps a decision; what the change leaves out stays as it was decided before. */
export function putHand(db: Writable, frameId: number, change: Partial<Hand>, at: string): void {
  const { kind, aside, asideWhy, lightSource } = { ...noHand, ...handOf(db, frameId), ...change }
  put(db, frameId, kind, aside === null ? null : aside ? 1 : 0, asideWhy, lightSource, at)
}

/** The facts of a frame with what was decided by hand laid over them. */
export function withHand(db: Readable, frameId: number, facts: FrameFacts): FrameFacts {
  const hand = handOf(db, frameId)
  if (!hand) return facts
  return {
    ...facts,
    ...(hand.kind !== null && { kind: hand.kind, kindFrom: 'user' as const }),
    ...(hand.aside !== null && { aside: hand.aside, asideWhy: hand.aside ? (hand.asideWhy ?? 'by hand') : null }),
    ...(hand.lightSource !== null && { lightSource: hand.lightSource }),
  }
}

// In this order: people decide about few frames, and a million would be looked through otherwise.
const last = query<{ lightSource: LightSource }, [string | null]>(
  `SELECT frame_hands.light_source AS lightSource FROM frame_hands CROSS JOIN frames ON frames.id = frame_id
    WHERE frame_hands.light_source IS NOT NULL AND rig IS ? ORDER BY frame_hands.at DESC, frame_id DESC LIMIT 1`,
)
/** What a person said last of flats of this rig: worth suggesting, never more. */
export const lastLightSource = (db: Readable, rig: string | null): LightSource | null =>
  last.one(db, rig)?.lightSource ?? null
