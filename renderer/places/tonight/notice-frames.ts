import type { Notice, Run, Tonight } from '../../../main/contract/index.ts'
import { settingsLine } from '../../parts/settings.ts'

export interface NoticeRun {
  run: Run | null
  /** Settings beyond what the run's title says: "gain 120 · offset 30 · -10 °C". */
  settings: string
  frames: { id: number; at: string | null }[]
}

/** Which frames a notice is about, by their runs in the night's order; those of no known run (logged since) come last. */
export function noticeRuns({ frameIds }: Pick<Notice, 'frameIds'>, runs: readonly Run[]): NoticeRun[] {
  const left = new Set(frameIds)
  const found = runs.flatMap((run): NoticeRun[] => {
    const frames = run.frameIds.flatMap((id, index) => (left.delete(id) ? [{ id, at: startOf(run, index) }] : []))
    return frames.length ? [{ run, settings: settingsLine(run).slice(1).join(' · '), frames }] : []
  })
  if (left.size) found.push({ run: null, settings: '', frames: [...left].map((id) => ({ id, at: null })) })
  return found
}

/** The notices of a night; where it has several rigs, each says in its text whose it is. */
export function withRigs({ notices, runs }: Pick<Tonight, 'notices' | 'runs'>): Notice[] {
  if (!haveSeveralRigs(runs)) return notices
  return notices.map((notice) => {
    const [rig, ...others] = new Set(noticeRuns(notice, runs).map(({ run }) => run?.rig))
    return !rig || others.length || notice.text.includes(rig) ? notice : { ...notice, text: `${notice.text} (${rig})` }
  })
}

export const haveSeveralRigs = (runs: readonly Run[]): boolean => new Set(runs.map(({ rig }) => rig)).size > 1

function startOf({ firstAt, startsS }: Run, index: number): string | null {
  const startS = startsS?.[index]
  return firstAt === null || startS == null ? null : new Date(Date.parse(firstAt) + startS * 1000).toISOString()
}
