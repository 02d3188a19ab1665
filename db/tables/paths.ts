import { sep } from 'node:path'
import { command, immediately, type Writable } from '../handle.ts'

type Values = [{ from: string; to: string }]
const below = 'SET path = :to || substr(path, length(:from) + 1) WHERE substr(path, 1, length(:from)) = :from'
const tables = ['masters', 'frames', 'files', 'checks', 'master_sources'].map((table) =>
  command<Values>(`UPDATE ${table} ${below}`),
)

/** Every path below one folder stands below another from now on: the files themselves were moved there. */
export function repath(db: Writable, from: string, to: string): void {
  immediately(db, () => {
    for (const update of tables) update(db, { from: from + sep, to: to + sep })
  })
}
