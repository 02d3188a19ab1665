import type { Run } from '../../../main/contract/index.ts'
import type { Need } from '../../../main/contract/words.ts'
import { counted, duration } from '../../parts/format.ts'
import { kindWord } from '../../parts/labels.ts'

/** Exposure of one target through one filter, s. */
export interface TargetTime {
  target: string
  filter: string | null
  lightS: number
}

export interface NightCover {
  times: TargetTime[]
  /** Lights without a master of a kind, and how many of them can't get one any more. */
  lacks: { need: Need; lights: number; never: number }[]
}

const key = ({ target, filter }: TargetTime) => `${target}\n${filter ?? ''}`

/** Adds up what belongs to one target and filter, the longest first. */
export function sumTimes(times: readonly TargetTime[]): TargetTime[] {
  const sums = new Map<string, TargetTime>()
  for (const time of times) {
    const sum = sums.get(key(time))
    sums.set(key(time), { ...time, lightS: (sum?.lightS ?? 0) + time.lightS })
  }
  return [...sums.values()].toSorted((a, b) => b.lightS - a.lightS || key(a).localeCompare(key(b)))
}

/** What the lights of a night were of, and what they still lack; aside frames need nothing. */
export function coverOf(runs: readonly Run[]): NightCover {
  const lights = runs.filter(({ kind, aside }) => kind === 'light' && !aside)
  const times = sumTimes(
    lights.map(({ target, filter, totalS }) => ({ target: target ?? 'no target named', filter, lightS: totalS })),
  )
  const lacks = (['dark', 'flat'] as const).map((need) => {
    let [without, never] = [0, 0]
    for (const { verdicts } of lights) {
      const { due = 0, missing = 0, lost = 0 } = verdicts[need]?.counts ?? {}
      without += due + missing + lost
      never += missing + lost
    }
    return { need, lights: without, never }
  })
  return { times, lacks: lacks.filter((lack) => lack.lights > 0) }
}

/** "Heart 1, dual-band: 3.1 h". */
export const timeText = ({ target, filter, lightS }: TargetTime) =>
  `${filter ? `${target}, ${filter}` : target}: ${duration(lightS)}`

/** "24 lights without a flat, 6 of them for good"; null where all is there. */
export function lackText({ lacks }: NightCover): string | null {
  const parts = lacks.map(({ need, lights, never }) => {
    const forGood = never === 0 ? '' : never === lights ? ', for good' : `, ${never} of them for good`
    return `${counted(lights, 'light')} without a ${kindWord[need]}${forGood}`
  })
  return parts.length ? parts.join('; ') : null
}
