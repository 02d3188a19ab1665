import type { Run, RunVerdict, Tonight } from '../../../main/contract/index.ts'
import type { Need } from '../../../main/contract/words.ts'
import { clockTime, counted, duration, number } from '../../parts/format.ts'
import { kindWord, verdictWord } from '../../parts/labels.ts'
import type { Gap } from './exposures.ts'

/** "flat due", and where only some frames of the run are so: "dark due for 14 of 35". */
export function coverage(need: Need, { verdict, counts }: RunVerdict, frames: number): string {
  const such = counts[verdict] ?? frames
  return `${kindWord[need]} ${verdictWord[verdict]}${such < frames ? ` for ${number(such)} of ${number(frames)}` : ''}`
}

/** "no frame for 24 min", with the rig's name where there are several. */
export const gapWords = ({ from, to, rig }: Gap, rigs: boolean) =>
  `no frame for ${duration((to - from) / 1000)}${rigs ? ` (${rig ?? 'unnamed rig'})` : ''}`

/** "aside: 6 frames (focus), 4 frames (pointing)". */
export function asideLine(runs: readonly Run[]): string {
  const sums = new Map<string, number>()
  for (const { target, kind, frames } of runs) {
    const name = target ?? kindWord[kind]
    sums.set(name, (sums.get(name) ?? 0) + frames)
  }
  return `aside: ${[...sums].map(([name, frames]) => `${counted(frames, 'frame')} (${name})`).join(', ')}`
}

/** When the night is dark, in words, as the shades of the strip show it. */
export function darknessLine(sun: NonNullable<Tonight['sun']>): string {
  const { duskAt, dawnAt, darkestFrom, darkestTo } = sun
  if (!duskAt || !dawnAt) return 'The Sun stays above −12° all night: twilight throughout.'
  const dark = `Dark from ${clockTime(duskAt)} to ${clockTime(dawnAt)} (Sun below −12°)`
  const darkest =
    darkestFrom && darkestTo
      ? `darkest from ${clockTime(darkestFrom)} to ${clockTime(darkestTo)} (below −18°)`
      : 'never below −18°'
  return `${dark}, ${darkest}.`
}

/** What the strip cannot show, so that nobody misses it. */
export const untimedLine = (runs: readonly Run[]) =>
  runs.length
    ? ` ${counted(runs.length, 'run')} without times ${runs.length === 1 ? 'stands' : 'stand'} in the table only.`
    : ''
