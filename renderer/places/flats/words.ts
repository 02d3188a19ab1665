import type { LoggedChange, Shortfall, TrainChange } from '../../../main/contract/index.ts'
import type { Scope } from '../../../main/contract/words.ts'
import { counted, duration } from '../../parts/format.ts'
import { waitingLights } from '../../parts/settings.ts'
import type { FlatRow } from './rows.ts'

const DAY_MS = 86_400_000

/** How a row's flat stands, as a word for tests and styles and a sentence for people. */
export function flatAnswer(
  { flat, touchedBy, runs }: Pick<FlatRow, 'flat' | 'touchedBy' | 'runs'>,
  agingDays: number | null,
  nowMs = Date.now(),
): { standing: 'holds' | 'aging' | 'touched' | 'refuted' | 'none' | 'damaged'; text: string } {
  if (!flat) {
    const there = runs.reduce((sum, run) => sum + run.frames, 0)
    const raw = there ? `${counted(there, 'raw flat')} of the newest night` : 'none was shot in the newest night'
    return { standing: 'none', text: `None on the shelf yet; ${raw}.` }
  }
  if (flat.state === 'damaged') return { standing: 'damaged', text: 'Its file is damaged: verify the shelf.' }
  if (flat.refutedAt)
    return {
      standing: 'refuted',
      text: 'A check flat says that it no longer holds: shoot new flats before the rig is touched.',
    }
  if (touchedBy) return { standing: 'touched', text: 'The train was touched since: shoot a check flat, or new flats.' }
  const sinceProof = flat.provenAt ? (nowMs - Date.parse(flat.provenAt)) / DAY_MS : Infinity
  const days = Math.min(flat.ageDays ?? 0, sinceProof)
  if (agingDays !== null && days > agingDays)
    return { standing: 'aging', text: 'Nothing was touched, but it is old: a check flat tells whether it still holds.' }
  return { standing: 'holds', text: 'Holds: nothing was touched since it was taken or proven.' }
}

export const scopeChoice: Record<Scope, string> = {
  filter: 'one filter',
  train: 'the train, all filters',
  camera: 'the camera too',
}

/** What a scope means for the flats, said while it is chosen. */
export const scopeEffect: Record<Scope, string> = {
  filter: 'Flats of this filter begin anew; the others hold.',
  train: 'All flats of the rig begin anew. Darks hold.',
  camera: 'All flats of the rig begin anew, and so does what is known of hot pixels.',
}

/** What a change would cost, one sentence a row. */
export const losingText = (row: Shortfall) =>
  `${row.kind === 'flat' ? 'Flats' : 'Dark flats'}${row.settings.filter ? `, ${row.settings.filter}` : ''}: ${counted(row.count, 'frame')}, about ${duration(row.seconds)}, for ${waitingLights(row)}.`

/** "Train changed: …; taken back." */
export const changeText = ({ text, filter, closes }: Pick<TrainChange, 'text' | 'filter' | 'closes'>) =>
  `${text}${filter ? ` (${filter})` : ''}${closes ? ', taken apart' : ''}`

/** What logging a change came to. */
export const loggedText = ({ losing }: Pick<LoggedChange, 'losing'>) =>
  losing.length
    ? 'It is logged. These were still needed from before it; taken back within this place, they count again:'
    : 'It is logged: flats from before it are of another epoch now.'

/** "2026-11-20 19:40", local, as an instant; null where nothing was typed, undefined where it is no moment. */
export function typedMoment(text: string): string | null | undefined {
  if (!text.trim()) return null
  const [, date, time] = /^(\d{4}-\d{2}-\d{2})[ T](\d{1,2}:\d{2})$/.exec(text.trim()) ?? []
  const moment = new Date(`${date}T${time?.padStart(5, '0')}`)
  return Number.isNaN(moment.getTime()) ? undefined : moment.toISOString()
}
