import { command, query, type Readable, type Writable } from '../handle.ts'

/** What is remembered of a notice: what its rows cannot say again. */
export interface NoticeRecord {
  id: string
  openedAt: string
  acknowledgedAt: string | null
  closedAt: string | null
}

const fields = 'id, opened_at AS openedAt, acknowledged_at AS acknowledgedAt, closed_at AS closedAt'
const ofNight = query<NoticeRecord, [string]>(`SELECT ${fields} FROM notices WHERE night = ? ORDER BY opened_at, id`)
export const noticesOfNight = (db: Readable, night: string): NoticeRecord[] => ofNight.all(db, night)

const open = command<[string, string, string]>(
  `INSERT INTO notices (id, night, opened_at) VALUES (?, ?, ?)
   ON CONFLICT (id) DO UPDATE SET opened_at = excluded.opened_at, acknowledged_at = NULL, closed_at = NULL
     WHERE closed_at IS NOT NULL`,
)
/** A notice opened; one that had closed opens anew, with nobody having seen it. */
export const openNotice = (db: Writable, id: string, night: string, at: string): void => void open(db, id, night, at)

const close = command<[string, string]>('UPDATE notices SET closed_at = ? WHERE id = ? AND closed_at IS NULL')
export const closeNotice = (db: Writable, id: string, at: string): void => void close(db, at, id)

const acknowledge = command<[string, string]>(
  'UPDATE notices SET acknowledged_at = coalesce(acknowledged_at, ?) WHERE id = ? AND closed_at IS NULL',
)
/** False if no such notice is open. */
export const acknowledgeNotice = (db: Writable, id: string, at: string): boolean =>
  acknowledge(db, at, id).changes === 1
