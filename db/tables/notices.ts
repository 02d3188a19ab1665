import type { Urgency } from '../../main/contract/index.ts'
import { command, query, type Readable, type Writable } from '../handle.ts'

/** What is remembered of a notice that is open: what its rows cannot say again. */
export interface OpenNotice {
  id: string
  severity: Urgency
  openedAt: string
  acknowledged: boolean
}
type Row = Omit<OpenNotice, 'acknowledged'> & { acknowledgedAt: string | null }

const ofNight = query<Row, [string]>(
  `SELECT id, severity, opened_at AS openedAt, acknowledged_at AS acknowledgedAt FROM notices
    WHERE night = ? AND closed_at IS NULL ORDER BY opened_at, id`,
)
export const openNotices = (db: Readable, night: string): OpenNotice[] =>
  ofNight.all(db, night).map(({ acknowledgedAt, ...rest }) => ({ ...rest, acknowledged: acknowledgedAt !== null }))

const put = command<[string, string, string, string, string | null]>(
  `INSERT INTO notices (night, id, severity, opened_at, acknowledged_at) VALUES (?, ?, ?, ?, ?)
   ON CONFLICT (night, id) DO UPDATE SET severity = excluded.severity, opened_at = excluded.opened_at,
     acknowledged_at = excluded.acknowledged_at, closed_at = NULL`,
)
/** A notice is open: newly, again, or with another severity. `at`: when somebody acknowledged it, if so. */
export const putNotice = (
  db: Writable,
  night: string,
  { id, severity, openedAt, acknowledged }: OpenNotice,
  at: string,
) => void put(db, night, id, severity, openedAt, acknowledged ? at : null)

const close = command<[string, string, string]>('UPDATE notices SET closed_at = ? WHERE night = ? AND id = ?')
export const closeNotice = (db: Writable, night: string, id: string, at: string): void => void close(db, at, night, id)

const acknowledge = command<[string, string]>(
  'UPDATE notices SET acknowledged_at = coalesce(acknowledged_at, ?) WHERE id = ? AND closed_at IS NULL',
)
/** False if no such notice is open. */
export const acknowledgeNotice = (db: Writable, id: string, at: string): boolean => acknowledge(db, at, id).changes > 0
