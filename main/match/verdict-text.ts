import type { Difference, Master, Need } from '../contract/index.ts'
import type { MatchContext } from './context.ts'
import type { Epoch } from './epochs.ts'
import type { Finding } from './finding.ts'
import { temperatureOf } from './tolerance.ts'
import { sayAge, sayCount, sayDifferences, sayFrames, sayKinds, sayTemp, sayUnknown } from './wording.ts'

/** Within this a thermometer's last digit speaks, °C: said to be exact. */
const exactC = 0.2

/** What is said of a master that fits, nearly fits, or would fit but for what is not known. */
export function sayFinding(
  finding: Finding,
  wants: 'light' | 'flat',
  { tempC = null, now }: { tempC?: number | null; now: string },
): string {
  const { word, differences } = finding
  const master = finding.master as Master
  if (word === 'unconfirmed') return `fits, but ${sayUnknown(differences, wants)}`
  const facts = [sayAge(master.madeAt, now), sayFrames(master.frames)]
  if (word === 'near') {
    return [`${sayDifferences(differences, wants)} (${facts.join(', ')})`, ...(finding.costs ?? [])].join('. ')
  }
  if (master.kind === 'bias') facts.unshift('a bias stands in')
  return [...facts, ...sayFit(master, tempC), ...differences.map((d) => sayNote(d, wants))].join(', ')
}

/** "exact", or how much warmer or colder a dark is; nothing where temperature does not matter. */
function sayFit(master: Master, tempC: number | null): string[] {
  const own = temperatureOf(master)
  if (tempC === null || own === null || master.kind === 'flat') return []
  const warmer = own - tempC
  if (Math.abs(warmer) <= exactC + 1e-9) return ['exact']
  return [`${Math.abs(warmer).toFixed(1)} °C ${warmer > 0 ? 'warmer' : 'colder'}`]
}

function sayNote(noted: Difference, wants: 'light' | 'flat'): string {
  if (noted.field === 'sensorTempC' || noted.field === 'setTempC')
    return `taken at ${sayTemp(noted.master as number)}, the ${wants} at ${sayTemp(noted.light as number)}`
  return sayDifferences([noted], wants)
}

interface Circumstances {
  /** Raw frames that would make the master, not yet built. */
  waiting: number
  context: MatchContext
  epoch: Epoch | null
}

/** What is said where no master fits: that it waits to be built, or that there is none, and the nearest there is. */
export function sayNone(
  word: 'due' | 'lost' | 'missing',
  need: Need,
  wants: 'light' | 'flat',
  finding: Finding,
  { waiting, context, epoch }: Circumstances,
): string {
  if (waiting > 0) return sayWaiting(need, waiting, context)
  const nearest = finding.master ? `; nearest: ${sayNearest(finding.differences, finding.master, wants, epoch)}` : ''
  if (word === 'missing') return `none, and the camera is gone${nearest}`
  if (word === 'lost') return `none was shot before the train was changed${nearest}`
  return `${epoch?.begunBy ? 'none since the train was changed' : 'none yet'}${nearest}`
}

function sayWaiting(need: Need, waiting: number, { tolerances }: MatchContext): string {
  const are = waiting === 1 ? 'is' : 'are'
  if (waiting >= tolerances.leastToBuild) return `${sayCount(waiting, need)} ${are} there, ready to be built`
  return `${sayCount(waiting, need)} ${are} there, ${wantedCount(need, tolerances)} wanted`
}

/** How many raw frames a master of this kind wants. */
export const wantedCount = (need: Need, t: MatchContext['tolerances']) =>
  need === 'dark' ? t.darkCount : need === 'flat' ? t.flatCount : t.darkFlatCount

function sayNearest(
  differences: readonly Difference[],
  master: Master,
  wants: 'light' | 'flat',
  epoch: Epoch | null,
): string {
  const later = epoch !== null && Date.parse(master.madeAt ?? '') >= epoch.untilMs
  const said = differences.map((d) =>
    d.field === 'epoch' && later ? 'taken after the train was changed' : sayDifferences([d], wants),
  )
  return said.length ? said.join('; ') : `a ${sayKinds(master.kind, 1)} that does not serve here`
}
