import type { NightView } from './night.ts'

/** Shapes as in the window: a full disc, a ring, a struck ring, and a dotted ring while nothing is known. */
export type Shape = 'full' | 'ring' | 'struck' | 'dotted'

export interface TrayState {
  shape: Shape
  /** One line for a person. */
  line: string
}

/** The night in one shape and one line; the most urgent thing wins. */
export function trayState({ engine, tonight }: NightView): TrayState {
  if (engine === 'lost') return { shape: 'dotted', line: 'Logging stopped for a moment and is being started again' }
  if (!tonight) return { shape: 'dotted', line: 'Starting' }
  const urgent = tonight.notices.filter(({ severity, acknowledged }) => severity === 'actNow' && !acknowledged)
  if (urgent.length) return { shape: 'struck', line: urgent[0].text }
  const due = tonight.shortfall.filter(({ urgency }) => urgency === 'actNow' || urgency === 'beforeTeardown')
  if (due.length) return { shape: 'ring', line: `Before the rig is touched: ${runs(due.length)} still to be shot` }
  if (!tonight.runs.length) return { shape: 'full', line: 'Watching; no frame yet' }
  const later = tonight.shortfall.length
  return { shape: 'full', line: later ? `Nothing urgent; ${runs(later)} for another time` : 'Every frame is covered' }
}

const runs = (count: number): string => (count === 1 ? '1 run' : `${count} runs`)
