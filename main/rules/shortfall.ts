import { URGENCIES, type Frame, type Settings, type Shortfall, type Urgency } from '../contract/index.ts'
import { countRawDarks } from '../match/raw.ts'
import { temperatureOf } from '../match/tolerance.ts'
import { sayCount, sayExposure } from '../match/wording.ts'
import { wantedCount } from '../match/verdict-text.ts'
import { endMs, inTime } from './cadence.ts'
import { suggestFlatExposure } from './flat-exposure.ts'
import { nameCause } from './identity.ts'
import { leastFrames, type Need } from './needs.ts'
import { canBeShot, urgencyOf } from './urgency.ts'
import type { NightView } from './view.ts'

const sunCaution =
  'Twilight flats: never point an uncapped telescope near the Sun; keep to local rules and to what its maker says.'
const coolerCaution = "When you finish, warm the cooler up slowly, as the camera's maker says."

/** Whether a need is still open: something is to be shot, and can be. */
export const isOpen = (need: Need, view: NightView) =>
  need.frames.length >= leastFrames &&
  (need.verdict.verdict === 'due' || need.verdict.verdict === 'near') &&
  canBeShot(need, view.state.match.gone ?? []) &&
  need.have < wantedCount(need.kind, view.state.match.tolerances)

/**
 * What is still to be shot. First the dark flats of the flats that were just shot: the panel goes off, all else stays. Then flats
 * and their dark flats, as one block; dark flats for other flats that are there already; darks. Most urgent first, within that by
 * the exposure that waits.
 */
export function findShortfall(view: NightView): Shortfall[] {
  const blocks = view.needs
    .filter((need) => isOpen(need, view))
    .map((need) => ({
      rows: need.kind === 'flat' ? flatBlock(need, view) : [rowOf(need, view)],
      isNext: need.kind === 'darkFlat' && wereJustShot(need.frames, view),
    }))
  blocks.sort(
    ({ rows: [a], isNext: aIsNext }, { rows: [b], isNext: bIsNext }) =>
      URGENCIES.indexOf(a.urgency) - URGENCIES.indexOf(b.urgency) ||
      Number(bIsNext) - Number(aIsNext) ||
      order.indexOf(a.kind) - order.indexOf(b.kind) ||
      b.lightS - a.lightS ||
      (a.id < b.id ? -1 : 1),
  )
  return withoutRepeats(blocks.flatMap(({ rows }) => rows))
}

/** A run of flats that is not whole goes on after a shorter pause than this: a cable, a dimmer. */
const runEndsMs = 120_000

/** Whether the rig's last flats are among these, and are whole or have ended. */
function wereJustShot(flats: readonly Frame[], view: NightView): boolean {
  const ofRig = view.runs.filter(({ run }) => run.kind === 'flat' && !run.aside && run.rig === flats[0].rig)
  const last = inTime(ofRig.flatMap(({ frames }) => frames)).at(-1)
  if (!last || !flats.some(({ id }) => id === last.id)) return false
  return flats.length >= wantedCount('flat', view.state.match.tolerances) || view.clock.nowMs - endMs(last) > runEndsMs
}

const order: readonly Shortfall['kind'][] = ['flat', 'darkFlat', 'dark']

/** The same dark flats may be wanted by flats that are there and by those to come, or by two filters of one exposure. */
function withoutRepeats(rows: Shortfall[]): Shortfall[] {
  const kept = new Map<string, Shortfall>()
  for (const row of rows) {
    const same = kept.get(row.id)
    if (!same) kept.set(row.id, row)
    else if (same !== row)
      kept.set(row.id, { ...same, lights: same.lights + row.lights, lightS: same.lightS + row.lightS })
  }
  return [...kept.values()]
}

/** A row of darks, or of dark flats for flats that are there. */
function rowOf(need: Need, view: NightView): Shortfall {
  const settings = darkSettings(need.sample)
  const lights = need.kind === 'darkFlat' ? lightsBehind(need, view) : need.frames
  return makeRow(need.kind, nameCause(need.kind, ...Object.values(settings)), settings, view, {
    have: need.have,
    lights,
    urgency: urgencyOf(need, view),
    reason: reasonOf(need),
  })
}

interface RowFacts {
  have: number
  lights: readonly Frame[]
  urgency: Urgency
  reason: string
}

function makeRow(
  kind: Shortfall['kind'],
  id: string,
  settings: Partial<Settings>,
  view: NightView,
  facts: RowFacts,
): Shortfall {
  const count = wantedCount(kind, view.state.match.tolerances) - facts.have
  const readout = view.readoutOf(settings.rig ?? null)
  const assumed = readout.learned ? '' : ` ${readout.seconds} s of readout a frame assumed.`
  return {
    id,
    kind,
    settings,
    count,
    have: facts.have,
    seconds: Math.round(count * ((settings.exposureS ?? 0) + readout.seconds)),
    urgency: facts.urgency,
    lights: facts.lights.length,
    lightS: Math.round(facts.lights.reduce((sum, f) => sum + (f.exposureS ?? 0), 0)),
    reason: facts.reason + assumed,
    cautions: kind === 'flat' ? [sunCaution] : kind === 'dark' && isCooled(settings) ? [coolerCaution] : [],
  }
}

/** A set point well below any night's air: a cooler is at work. */
const isCooled = ({ setTempC }: Partial<Settings>) => setTempC != null && setTempC <= 5

/** A row of flats, and of the dark flats that they will want. */
function flatBlock(need: Need, view: NightView): Shortfall[] {
  const urgency = urgencyOf(need, view)
  const { exposureS, because } = suggestFlatExposure(need.sample, view)
  const flats = makeRow('flat', nameCause('flat', need.key), flatSettings(need.sample, exposureS), view, {
    have: need.have,
    lights: need.frames,
    urgency,
    reason: `${reasonOf(need)} ${exposureS === null ? because : `${sayExposure(exposureS)}: ${because}`}.`,
  })
  return [flats, ...darkFlatsFor(need, exposureS, urgency, view)]
}

function darkFlatsFor(need: Need, exposureS: number | null, urgency: Urgency, view: NightView): Shortfall[] {
  // Flats are shot as cold as the lights, so what would serve a flat with the lights' own temperature serves these.
  const flat: Frame = { ...need.sample, kind: 'flat', exposureS }
  const verdict = exposureS === null ? null : view.judge(flat).darkFlat?.verdict
  if (verdict && verdict !== 'due' && verdict !== 'near') return []
  const have = exposureS === null ? 0 : countRawDarks(flat, temperatureOf(flat), view.state.match)
  if (have >= view.state.match.tolerances.darkFlatCount) return []
  const settings = darkSettings(flat)
  if (exposureS === null) delete settings.exposureS
  const id = nameCause('darkFlat', ...Object.values(settings))
  const reason = "Right after the flats, panel off and covered: the flats' own exposure."
  return [makeRow('darkFlat', id, settings, view, { have, lights: need.frames, urgency, reason })]
}

/** The lights of the night that flats of a need serve. */
function lightsBehind(need: Need, view: NightView): Frame[] {
  const { rig, camera, filter } = need.sample
  return view.runs
    .filter(({ run }) => run.kind === 'light' && !run.aside)
    .flatMap(({ frames }) => frames)
    .filter((f) => f.rig === rig && f.camera === camera && f.filter === filter)
}

function reasonOf(need: Need): string {
  const near = need.verdict.verdict === 'near'
  if (need.kind === 'dark') {
    const why = near ? `The nearest dark: ${need.verdict.text}.` : 'No dark on the shelf fits.'
    return `${sayCount(need.frames.length, 'light')} wait. ${why} Any time, camera only, light-tight cap.`
  }
  if (need.kind === 'darkFlat') {
    const why = near ? `The nearest: ${need.verdict.text}.` : 'No dark flat fits them.'
    const when = need.epoch?.endedBy ? 'Any time, camera only, light-tight cap.' : 'Panel off and covered.'
    return `${sayCount(need.frames.length, 'flat')} wait. ${why} ${when}`
  }
  const why = near ? `The nearest flat: ${need.verdict.text}.` : since(need)
  return `${sayCount(need.frames.length, 'light')} wait. ${why} After teardown it can't be made up.`
}

const since = (need: Need) => (need.epoch?.begunBy ? 'No flat since the train was changed.' : 'No flat yet.')

const common = (s: Settings): Partial<Settings> => ({
  camera: s.camera,
  body: s.body,
  width: s.width,
  height: s.height,
  originX: s.originX,
  originY: s.originY,
  binning: s.binning,
  readout: s.readout,
  gain: s.gain,
  offset: s.offset,
  setTempC: s.setTempC ?? (s.sensorTempC === null ? null : Math.round(s.sensorTempC * 2) / 2),
})

const darkSettings = (s: Settings): Partial<Settings> => ({ ...common(s), exposureS: s.exposureS, rig: s.rig })

function flatSettings(s: Settings, exposureS: number | null): Partial<Settings> {
  const settings = { ...common(s), filter: s.filter, mechAngleDeg: s.mechAngleDeg, rig: s.rig, train: s.train }
  return exposureS === null ? settings : { ...settings, exposureS }
}
