import type { Frame, Master, Settings, TrainChange } from '../contract/index.ts'
import { compareField } from '../frame/keys.ts'
import { groupRuns } from '../frame/runs.ts'
import { agreeForDark, agreeForFlat } from './agreement.ts'
import type { MatchContext, RawGroup } from './context.ts'
import { createEpochs, type Epoch } from './epochs.ts'
import { onceFor } from './memo.ts'
import { exposureCloseness, temperatureCloseness, temperatureOf, turnDeg } from './tolerance.ts'

type RawKind = RawGroup['kind']
const rawKinds: ReadonlySet<string> = new Set<RawKind>(['dark', 'darkFlat', 'flat', 'bias'])

/**
 * The raw calibration frames that wait to be built, by run and (flats) by epoch. Left out: frames aside, broken or gone, and
 * those that a master has taken in; those of a damaged master count again, since it can be built anew from them.
 */
export function summariseRaw(
  frames: readonly Frame[],
  masters: readonly Pick<Master, 'sources' | 'state'>[],
  changes: readonly TrainChange[],
): RawGroup[] {
  const used = usedBy(masters)
  const epochs = createEpochs(changes)
  const byEpoch = new Map<string, Frame[]>()
  for (const frame of frames) {
    if (!rawKinds.has(frame.kind) || !isUsable(frame) || used.has(frame.path)) continue
    const atMs = Date.parse(frame.startedAt ?? '')
    const flatEpoch = frame.kind === 'flat' && !Number.isNaN(atMs) ? epochs.at(frame.rig, frame.filter, atMs).id : ''
    const group = byEpoch.get(flatEpoch ?? '')
    if (group) group.push(frame)
    else byEpoch.set(flatEpoch ?? '', [frame])
  }
  return [...byEpoch.values()].flatMap((group) =>
    groupRuns(group).map((run) => ({
      ...settingsOf(run),
      kind: run.kind as RawKind,
      count: run.frames,
      firstAt: run.firstAt,
      lastAt: run.lastAt,
    })),
  )
}

/** Paths of what sound masters were made from. */
const usedBy = onceFor(
  (masters: readonly Pick<Master, 'sources' | 'state'>[]): ReadonlySet<string> =>
    new Set(masters.filter((m) => m.state !== 'damaged').flatMap((m) => m.sources)),
)

/** Whether a frame's pixels can serve at all: not set aside, whole, still there, and no master itself. */
export const isUsable = (frame: Pick<Frame, 'aside' | 'state' | 'combined' | 'integrated'>) =>
  !frame.aside && isWhole(frame)

/** Whole, still there, and one exposure; set aside or not. */
export const isWhole = (frame: Pick<Frame, 'state' | 'combined' | 'integrated'>) =>
  (frame.state === 'ok' || frame.state === 'out of reach') && !frame.integrated && (frame.combined ?? 1) <= 1

/** The settings alone of something that has more. */
export function settingsOf(s: Settings): Settings {
  return {
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
    setTempC: s.setTempC,
    sensorTempC: s.sensorTempC,
    exposureS: s.exposureS,
    filter: s.filter,
    telescope: s.telescope,
    focalMm: s.focalMm,
    mechAngleDeg: s.mechAngleDeg,
    skyAngleDeg: s.skyAngleDeg,
    cfa: s.cfa,
    rowOrder: s.rowOrder,
    rig: s.rig,
    train: s.train,
  }
}

/** How many raw darks or dark flats would become a matching master for this frame. */
export function countRawDarks(light: Settings, tempC: number | null, context: MatchContext): number {
  const { tolerances } = context
  const twins = new Set(context.twins ?? [])
  let count = 0
  for (const raw of context.raw ?? []) {
    if (raw.kind !== 'dark' && raw.kind !== 'darkFlat') continue
    if (light.exposureS === null || raw.exposureS === null) continue
    if (exposureCloseness(light.exposureS, raw.exposureS, 0, tolerances) !== 'within') continue
    const rawTemp = temperatureOf(raw)
    if ((tempC === null) !== (rawTemp === null)) continue
    if (tempC !== null && rawTemp !== null && temperatureCloseness(tempC, rawTemp, tolerances) !== 'within') continue
    const { differs, unknown } = agreeForDark(light, raw, twins)
    if (!differs.length && !unknown.length) count += raw.count
  }
  return count
}

/** How many raw flats would become a matching master for a light of this epoch. */
export function countRawFlats(light: Settings, epoch: Epoch, context: MatchContext): number {
  const twins = new Set(context.twins ?? [])
  const sameGain = context.sensorRules(light.camera).flatNeedsSameGain.value
  let count = 0
  for (const raw of context.raw ?? []) {
    if (raw.kind !== 'flat' || !withinEpoch(raw, epoch)) continue
    if (!sameAngle(light.mechAngleDeg, raw.mechAngleDeg, context.tolerances.angleDeg)) continue
    if (sameGain && (['gain', 'offset'] as const).some((f) => compareField(light[f], raw[f]) !== 'equal')) continue
    const { differs, unknown } = agreeForFlat(light, raw, twins)
    if (!differs.length && !unknown.length) count += raw.count
  }
  return count
}

function withinEpoch(raw: RawGroup, epoch: Epoch): boolean {
  if (epoch.begunBy === null && epoch.endedBy === null) return true
  const atMs = Date.parse(raw.firstAt ?? '')
  return atMs >= epoch.sinceMs && atMs < epoch.untilMs
}

const sameAngle = (a: number | null, b: number | null, toleranceDeg: number) =>
  a === null || b === null ? a === b : turnDeg(a, b) <= toleranceDeg + 1e-9
