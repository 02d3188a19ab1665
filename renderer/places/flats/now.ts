import type { FlatNow, FlatPoint, Master } from '../../../main/contract/index.ts'
import { LIGHT_SOURCES, type LightSource } from '../../../main/contract/words.ts'
import { number, withUnit } from '../../parts/format.ts'

export const sourceWord: Record<LightSource, string> = {
  panel: 'a panel',
  sky: 'the sky',
  screen: 'a screen',
  other: 'something else',
}

/** What may be said of a light source; the last answer of the rig is marked, not chosen. */
export const sourceOptions = (suggested: LightSource | null) =>
  LIGHT_SOURCES.map((value) => ({
    value,
    label: value === suggested ? `${sourceWord[value]}, as last time` : sourceWord[value],
  }))

const colourWord = { R: 'red', G: 'green', B: 'blue' } as const

/** "Of the target: red 62 %, green 100 %, blue 80 %." Null for mono. */
export function channelsText(channels: FlatNow['channels']): string | null {
  if (!channels.length) return null
  const said = channels.map(
    ({ channel, ofTarget }) => `${colourWord[channel]} ${withUnit(number(100 * ofTarget), '%')}`,
  )
  return `Of the target: ${said.join(', ')}.`
}

/** The level first, large; then what is to be done; what is right comes last. */
export function sortPoints(points: readonly FlatPoint[]): { level: FlatPoint | null; rest: FlatPoint[] } {
  const level = points.find(({ what }) => what === 'level') ?? null
  const rest = points.filter((point) => point !== level)
  return { level, rest: [...rest.filter(({ right }) => !right), ...rest.filter(({ right }) => right)] }
}

/** "Lit by a panel. Balance against green: red 0.62, blue 0.80." Null where neither is known. */
export function litText({ lightSource, figures }: Pick<Master, 'lightSource' | 'figures'>): string | null {
  const balance = figures?.flat?.balance
  const parts = [
    ...(lightSource ? [`Lit by ${sourceWord[lightSource]}.`] : []),
    ...(balance ? [`Balance against green: red ${number(balance.R, 2)}, blue ${number(balance.B, 2)}.`] : []),
  ]
  return parts.length ? parts.join(' ') : null
}
