import type { Difference, Master, Settings } from '../contract/index.ts'
import { darkKey, keyValue } from '../frame/keys.ts'
import { agreeForDark, difference, restate, type Agreement } from './agreement.ts'
import type { MatchContext } from './context.ts'
import { exposedBetween, groupDarks, type DarkEntry, type DarkGroup } from './dark-groups.ts'
import {
  compareOrder,
  fitOf,
  fitWords,
  MATCHED,
  NEAR,
  openQuestions,
  UNFIT,
  type Finding,
  type Fit,
} from './finding.ts'
import { exposureCloseness, temperatureCloseness, temperatureField, type Closeness } from './tolerance.ts'

export type DarkNeed = 'dark' | 'darkFlat'

/** @returns what the shelf has for a light's dark or a flat's dark flat; `tempC` stands for the frame's temperature */
export type FindDark = (light: Settings, need: DarkNeed, tempC: number | null) => Finding

/**
 * Darks and dark flats are physically one thing, so both kinds are one shelf and the label decides nothing. A bias stands in
 * for a dark flat in classes that allow it, last in order; never for a dark. Nothing is scaled to fit.
 */
export function createDarkShelf(masters: readonly Master[], context: MatchContext): FindDark {
  const twins = new Set(context.twins ?? [])
  const groups = groupDarks(masters)
  const sides = new Map<string, Side[]>()
  const nearest = new Map<string, Place | null>()
  const sidesOf = (key: string, light: Settings): Side[] => {
    let known = sides.get(key)
    if (!known) {
      known = groups.map((group) => ({ group, ...agreeForDark(light, group.sample, twins) }))
      known.sort((a, b) => faults(a) - faults(b))
      sides.set(key, known)
    }
    return known
  }
  return (light, need, tempC) => {
    const key = darkKey(light) + keyValue(light.rig)
    const biasToo = need === 'darkFlat' && context.sensorRules(light.camera).biasAllowed.value
    const request: Request = { light, need, tempC, biasToo, context, sides: sidesOf(key, light) }
    const fitting = findFitting(request)
    if (fitting) return fitting
    // Which one is nearest is asked by the tenth of a degree only: a hundred lights of a warming sensor share one answer.
    const tenth = tempC === null ? null : Math.round(tempC * 10) / 10
    const place = `${key}${need}${biasToo}${light.exposureS}/${tenth}`
    let found = nearest.get(place)
    if (found === undefined) nearest.set(place, (found = findNearest({ ...request, tempC: tenth })))
    return found
      ? { word: null, master: found.entry.master, differences: allDifferences(request, found) }
      : { word: null, master: null, differences: [] }
  }
}

interface Side extends Agreement {
  group: DarkGroup
}

interface Place {
  entry: DarkEntry
  side: Side
  order: number[]
}

interface Request {
  light: Settings
  need: DarkNeed
  tempC: number | null
  biasToo: boolean
  context: MatchContext
  sides: readonly Side[]
}

const faults = (side: Agreement) => side.differs.length + side.unknown.length

function findFitting(request: Request): Finding | null {
  let best: (Place & { fit: Fit }) | null = null
  for (const side of request.sides) {
    if (side.differs.length) continue
    for (const entry of withinReach(request, side.group)) {
      const fit = weigh(request, side, entry)
      if (fit === UNFIT || (best && fit > best.fit)) continue
      const order = orderOf(request, side, entry, fit)
      if (!best || fit < best.fit || compareOrder(order, best.order) < 0) best = { entry, side, order, fit }
    }
  }
  if (!best) return null
  const { master } = best.entry
  if (best.fit === MATCHED) return { word: 'matched', master, differences: notes(request.light, master) }
  const differences = allDifferences(request, best)
  if (best.fit === NEAR) return { word: 'near', master, ...priced(request, master, differences) }
  return { word: fitWords[best.fit], master, differences: [...differences, ...openQuestions(master)] }
}

/** Puts to each difference in temperature or exposure what it would cost, where that is known. */
function priced({ light, need, tempC, context }: Request, master: Master, differences: readonly Difference[]) {
  const costs = new Set<string>()
  const all = differences.map((difference): Difference => {
    const field = difference.field
    if (field !== 'exposureS' && field !== 'sensorTempC' && field !== 'setTempC') return difference
    const price = context.price?.(light, master, field, tempC, need === 'dark' ? 'light' : 'flat')
    if (!price) return difference
    if (price.text) costs.add(price.text)
    return { ...difference, ...(price.costE && { costE: price.costE }), costAdu: price.costAdu }
  })
  return { differences: all, ...(costs.size && { costs: [...costs] }) }
}

/** Entries whose exposure is at least near, and those that are not chosen by exposure. */
function withinReach({ light, need, context }: Request, group: DarkGroup): DarkEntry[] {
  if (light.exposureS === null) return [...group.timed, ...group.untimed]
  const reach = Math.max(context.tolerances.exposureS, light.exposureS * nearFraction(need, context)) * 1.001
  const timed = exposedBetween(group, light.exposureS - reach, light.exposureS + reach)
  return group.untimed.length ? [...timed, ...group.untimed] : timed
}

const nearFraction = (need: DarkNeed, { tolerances: t }: MatchContext) =>
  Math.max(t.exposureFraction, need === 'darkFlat' ? t.nearDarkFlatExposureFraction : t.nearExposureFraction)

function weigh(request: Request, side: Side, entry: DarkEntry): Fit {
  if (!entry.usable || (entry.bias && !request.biasToo)) return UNFIT
  const temp = inTemperature(request, entry)
  const exposure = inExposure(request, entry)
  if (temp === 'beyond' || exposure === 'beyond') return UNFIT
  const off = (temp === 'near' ? 1 : 0) + (exposure === 'near' ? 1 : 0)
  const unknown = side.unknown.length + (temp === 'unknown' ? 1 : 0) + (exposure === 'unknown' ? 1 : 0)
  return fitOf(off, unknown, entry.open)
}

function inTemperature({ tempC, context }: Request, entry: DarkEntry): Closeness | 'unknown' {
  if (tempC === null && entry.tempC === null) return 'within'
  if (tempC === null || entry.tempC === null) return 'unknown'
  return temperatureCloseness(tempC, entry.tempC, context.tolerances)
}

/** Unlike other settings, an exposure that neither side knows is no agreement: it is what a dark is about. */
function inExposure({ light, need, context }: Request, entry: DarkEntry): Closeness | 'unknown' {
  if (entry.bias) return 'within'
  if (light.exposureS === null || entry.exposureS === null) return 'unknown'
  return exposureCloseness(light.exposureS, entry.exposureS, nearFraction(need, context), context.tolerances)
}

/**
 * Temperature, exposure, proven or not, newest above the least number of frames. Temperatures are told apart to 0.1 °C and
 * exposures to 1 ms: below that it is the thermometer's noise that would choose. Before them stand how many fields are in the
 * way (none for a match), and a bias after any dark. The id makes it total.
 */
function orderOf(request: Request, side: Side, entry: DarkEntry, fit: Fit): number[] {
  const { light, tempC, context } = request
  const { master } = entry
  const tempApart = apart(tempC, entry.tempC)
  const exposureApart = entry.bias ? 0 : apart(light.exposureS, entry.exposureS)
  const frames = master.frames ?? 0
  const inTheWay = fit === MATCHED ? 0 : side.unknown.length + entry.open + offOf(request, entry)
  return [
    inTheWay,
    entry.bias ? 1 : 0,
    Math.round(tempApart * 10),
    Math.round(exposureApart * 1000),
    master.provenAt === null ? 1 : 0,
    frames >= context.tolerances.leastToBuild ? 0 : 1,
    -entry.madeMs,
    -frames,
    master.id,
  ]
}

const apart = (a: number | null, b: number | null) => (a === null || b === null ? 0 : Math.abs(a - b))

/**
 * The master to name where none fits: of the same camera, with the fewest fields that do not agree, and among those the one
 * closest in exposure, then in temperature: "offset 50, the light has 30" tells more than a dark of another exposure would.
 */
function findNearest(request: Request): Place | null {
  let best: Place | null = null
  for (const side of request.sides) {
    const least = faults(side)
    // Groups come by their number of faults: those that follow cannot do better.
    if (best && least > best.order[0]) break
    if (side.differs.some((d) => d.field === 'camera' || d.field === 'body')) continue
    for (const entry of [...side.group.timed, ...side.group.untimed]) {
      if (entry.bias && !request.biasToo) continue
      const off = least + offOf(request, entry)
      if (best && off > best.order[0]) continue
      const order = [off, entry.bias ? 1 : 0, ratioOf(request, entry), apart(request.tempC, entry.tempC)]
      order.push(-entry.madeMs, entry.master.id)
      if (!best || compareOrder(order, best.order) < 0) best = { entry, side, order }
    }
  }
  return best
}

const offOf = (request: Request, entry: DarkEntry) =>
  (inExposure(request, entry) === 'within' ? 0 : 1) +
  (inTemperature(request, entry) === 'within' ? 0 : 1) +
  (entry.usable ? 0 : 1)

/** How far exposures are apart as a ratio, since 300 s is nearer to 180 s than 10 s is to 1 s. */
function ratioOf({ light }: Request, entry: DarkEntry): number {
  if (entry.bias || !light.exposureS || !entry.exposureS) return 0
  return Math.abs(Math.log(light.exposureS / entry.exposureS))
}

/** Every field in which this master does not agree with the frame, or cannot be told to. */
function allDifferences(request: Request, { side, entry }: Place): Difference[] {
  const { light, tempC } = request
  const { master } = entry
  const all = restate(side.differs, light, master)
  if (inTemperature(request, entry) !== 'within')
    all.push({ field: temperatureField(light, master), light: tempC, master: entry.tempC })
  if (inExposure(request, entry) !== 'within') all.push(difference('exposureS', light, master))
  if (!entry.usable) all.push({ field: 'subtracted', light: 'none', master: master.subtracted })
  return [...all, ...restate(side.unknown, light, master)]
}

/** Colour pattern and row order say how to look at pixels, not which they are: a warning, no obstacle. */
export function notes(light: Settings, master: Settings): Difference[] {
  return (['cfa', 'rowOrder'] as const)
    .filter((f) => light[f] !== null && master[f] !== null && keyValue(light[f]) !== keyValue(master[f]))
    .map((f) => difference(f, light, master))
}
