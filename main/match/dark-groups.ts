import type { Master } from '../contract/index.ts'
import { darkKey, keyValue } from '../frame/keys.ts'
import { openQuestions } from './finding.ts'
import { obtain, onceFor } from './memo.ts'
import { temperatureOf } from './tolerance.ts'

/** A master with what is asked of it again and again. */
export interface DarkEntry {
  master: Master
  /** ms; −∞ where it has no date, which makes it older than any that has one. */
  madeMs: number
  tempC: number | null
  exposureS: number | null
  bias: boolean
  /** A dark from which a bias was taken leaves the bias in the light: it cannot serve, however well its key fits. */
  usable: boolean
  open: number
}

/** Masters that agree in every field of the key but temperature and exposure. */
export interface DarkGroup {
  sample: Master
  /** By exposure, shortest first. */
  timed: DarkEntry[]
  /** Biases, and masters whose exposure nobody knows. */
  untimed: DarkEntry[]
}

export const groupDarks = onceFor((masters: readonly Master[]): DarkGroup[] => {
  const groups = new Map<string, DarkGroup>()
  for (const master of masters) {
    if (master.state !== 'ready' || master.kind === 'flat') continue
    // The rig is in no dark's key, but it can stand for a body that no header names.
    const key = darkKey(master) + keyValue(master.rig)
    let group = groups.get(key)
    if (!group) groups.set(key, (group = { sample: master, timed: [], untimed: [] }))
    const bias = master.kind === 'bias'
    const madeMs = Date.parse(master.madeAt ?? '')
    ;(bias || master.exposureS === null ? group.untimed : group.timed).push({
      master,
      madeMs: Number.isNaN(madeMs) ? -Infinity : madeMs,
      tempC: temperatureOf(master),
      exposureS: master.exposureS,
      bias,
      usable: master.subtracted === null || master.subtracted === 'none',
      open: openQuestions(master).length,
    })
  }
  for (const group of groups.values()) group.timed.sort((a, b) => (a.exposureS ?? 0) - (b.exposureS ?? 0))
  return [...groups.values()]
})

/** Darks, dark flats and bias masters of each `darkKey`, whatever their state. */
export const darksByKey = onceFor((masters: readonly Master[]): ReadonlyMap<string, Master[]> => {
  const byKey = new Map<string, Master[]>()
  for (const master of masters) if (master.kind !== 'flat') obtain(byKey, darkKey(master), () => []).push(master)
  return byKey
})

/** The entries whose exposure lies between two bounds, s. */
export function exposedBetween(group: DarkGroup, least: number, most: number): DarkEntry[] {
  const { timed } = group
  let low = 0
  let high = timed.length
  while (low < high) {
    const middle = (low + high) >> 1
    if ((timed[middle].exposureS ?? 0) < least) low = middle + 1
    else high = middle
  }
  let end = low
  while (end < timed.length && (timed[end].exposureS ?? 0) <= most) end++
  return timed.slice(low, end)
}
