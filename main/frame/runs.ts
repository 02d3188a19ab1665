import type { Frame, Kind, Run, Settings } from '../contract/index.ts'
import { clusterAngles, clusterByGap, clusterExposures } from './clusters.ts'
import { keyValue } from './keys.ts'
import { sharedLightSource } from './light-source.ts'

/** What a run needs to know of a frame. */
export type RunFrame = Settings &
  Pick<Frame, 'id' | 'path' | 'kind' | 'target' | 'night' | 'aside' | 'startedAt' | 'lightSource'>

/** A run without its verdicts, which the matching adds. */
export type FrameRun = Omit<Run, 'verdicts'>

type Field = keyof Settings
const body: readonly Field[] = ['camera', 'body', 'width', 'height', 'originX', 'originY', 'binning', 'readout']
const levels: readonly Field[] = ['gain', 'offset', 'setTempC', 'rig']
/** No light passes through a dark: filter, telescope, target and angle make no difference to it. */
const darkSettings: readonly Field[] = [...body, ...levels]
const skySettings: readonly Field[] = [...body, ...levels, 'train', 'filter', 'telescope']

const needsNoSky = (kind: Kind) => kind === 'dark' || kind === 'darkFlat' || kind === 'bias'

/** A dark run goes on over noon when its next frame begins within this of the last one's end, s. */
export const DARK_RUN_PAUSE_S = 3600
/** Without a set point, frames belong to different runs where no frame bridges more than this, °C. */
const tempGapC = 1

/**
 * The runs of these frames: same kind, settings (exposure within 0.1 % or 10 ms, mechanical angle within 1°) and, for lights,
 * target, within a night. Other runs may take turns with one. A run of darks that goes on over noon belongs to the night in
 * which it began: to judge a night wholly, pass the frames of the night before and after too, and use `runsOfNight`.
 * Frames set aside make runs of their own. The order of the input does not matter; runs come by their first frame.
 */
export function groupRuns(frames: readonly RunFrame[]): FrameRun[] {
  const groups = new Map<string, RunFrame[]>()
  for (const frame of frames) {
    const key = keyOf(frame)
    const group = groups.get(key)
    if (group) group.push(frame)
    else groups.set(key, [frame])
  }
  const runs = [...groups.values()].flatMap(split).map(toRun)
  runs.sort((a, b) => compareText(a.firstAt ?? '\uffff', b.firstAt ?? '\uffff') || compareText(a.id, b.id))
  return tellApart(runs)
}

/** The runs that belong to one night, from its own frames and those of its neighbours. */
export const runsOfNight = (frames: readonly RunFrame[], night: string): FrameRun[] =>
  groupRuns(frames).filter((run) => run.night === night)

function keyOf(frame: RunFrame): string {
  const dark = needsNoSky(frame.kind)
  // A dark run may cross noon, so its night is told later, from the order of its frames.
  let key = `${frame.kind}\u001f${frame.aside}\u001f${dark ? '' : frame.night}\u001f`
  key += frame.kind === 'light' || frame.kind === 'unknown' ? keyValue(frame.target) : ''
  for (const field of dark ? darkSettings : skySettings) key += '\u001f' + keyValue(frame[field])
  return key
}

/** What a plain key cannot tell: fields with a tolerance, and noon. */
function split(group: RunFrame[]): RunFrame[][] {
  let parts = clusterExposures(group)
  if (group[0].setTempC === null) parts = parts.flatMap((part) => clusterByGap(part, 'sensorTempC', tempGapC))
  if (!needsNoSky(group[0].kind)) return parts.flatMap(clusterAngles).map((part) => part.sort(byTime))
  return parts.flatMap((part) => splitByNight(part.sort(byTime)))
}

/** A frame that follows on the one before belongs to the same night, whatever the clock says; any other to its own. */
function splitByNight(sorted: RunFrame[]): RunFrame[][] {
  const runs = new Map<string, RunFrame[]>()
  let night = ''
  let last: RunFrame | null = null
  for (const frame of sorted) {
    if (!last || !goesOn(last, frame)) night = frame.night
    const run = runs.get(night)
    if (run) run.push(frame)
    else runs.set(night, [frame])
    last = frame
  }
  return [...runs.values()]
}

function goesOn(before: RunFrame, after: RunFrame): boolean {
  if (!before.startedAt || !after.startedAt) return false
  const gapS = (Date.parse(after.startedAt) - Date.parse(before.startedAt)) / 1000 - (before.exposureS ?? 0)
  return gapS <= DARK_RUN_PAUSE_S
}

function toRun(frames: RunFrame[]): FrameRun {
  const first = frames[0]
  const dated = frames.filter((f) => f.startedAt !== null)
  return {
    ...sharedSettings(frames),
    id: runId(first),
    kind: first.kind,
    target: needsNoSky(first.kind) ? null : shared(frames.map((f) => f.target)),
    night: first.night,
    aside: first.aside,
    frames: frames.length,
    frameIds: frames.map((f) => f.id),
    startsS: frames.map((f) => secondsAfter(dated[0]?.startedAt, f.startedAt)),
    firstAt: dated[0]?.startedAt ?? null,
    lastAt: dated.at(-1)?.startedAt ?? null,
    lightSource: sharedLightSource(frames),
    totalS: Number(frames.reduce((sum, f) => sum + (f.exposureS ?? 0), 0).toPrecision(9)),
  }
}

const secondsAfter = (first: string | null | undefined, at: string | null): number | null =>
  first && at ? Math.round((Date.parse(at) - Date.parse(first)) / 100) / 10 : null

/** A setting of all frames of the run, null where they differ; the sensor's temperature is the median. */
function sharedSettings(frames: readonly RunFrame[]): Settings {
  const first = frames[0]
  const same = <F extends Field>(field: F): Settings[F] => shared(frames.map((f) => f[field]))
  return {
    camera: first.camera,
    body: first.body,
    width: first.width,
    height: first.height,
    originX: first.originX,
    originY: first.originY,
    binning: first.binning,
    readout: first.readout,
    gain: first.gain,
    offset: first.offset,
    setTempC: first.setTempC,
    sensorTempC: median(frames.map((f) => f.sensorTempC)),
    exposureS: median(frames.map((f) => f.exposureS)),
    filter: same('filter'),
    telescope: same('telescope'),
    focalMm: same('focalMm'),
    mechAngleDeg: needsNoSky(first.kind) ? same('mechAngleDeg') : first.mechAngleDeg,
    skyAngleDeg: same('skyAngleDeg'),
    cfa: same('cfa'),
    rowOrder: same('rowOrder'),
    rig: same('rig'),
    train: same('train'),
  }
}

const shared = <T>(values: T[]): T | null => (values.every((v) => v === values[0]) ? (values[0] ?? null) : null)

/** Median of the known values; the mean of the middle two for an even count. Null if none is known. */
function median(values: (number | null)[]): number | null {
  const known = values.filter((v) => v !== null).sort((a, b) => a - b)
  if (!known.length) return null
  const middle = (known[(known.length - 1) >> 1] + known[known.length >> 1]) / 2
  return Number(middle.toPrecision(7))
}

/** Made of the night, the kind and what the earliest frame was taken with, so that later frames do not change it. */
function runId(first: RunFrame): string {
  const dark = needsNoSky(first.kind)
  const temp = first.setTempC === null && first.sensorTempC !== null ? Math.round(first.sensorTempC) : ''
  const angle = dark || first.mechAngleDeg === null ? '' : Math.round(first.mechAngleDeg)
  const exposure = first.exposureS === null ? '' : first.exposureS.toFixed(2)
  return `${first.night}-${first.kind}-${fingerprint([keyOf(first), exposure, angle, temp].join('\u001f'))}`
}

/** 53 bits of a string as ten letters and digits (FNV-1a twice, with different seeds). Not for security. */
function fingerprint(text: string): string {
  let high = 0x811c9dc5
  let low = 0x01000193
  for (let i = 0; i < text.length; i++) {
    high = Math.imul(high ^ text.charCodeAt(i), 0x01000193)
    low = Math.imul(low ^ text.charCodeAt(i), 0x85ebca6b)
  }
  return ((high >>> 11) * 2 ** 32 + (low >>> 0)).toString(36).padStart(11, '0').slice(-10)
}

/** Two runs whose first frames round alike get different ids all the same. */
function tellApart(runs: FrameRun[]): FrameRun[] {
  const seen = new Map<string, number>()
  for (const run of runs) {
    const times = (seen.get(run.id) ?? 0) + 1
    seen.set(run.id, times)
    if (times > 1) run.id += `-${times}`
  }
  return runs
}

/** By start; frames without one last, by path. */
const byTime = (a: RunFrame, b: RunFrame) =>
  compareText(a.startedAt ?? '\uffff', b.startedAt ?? '\uffff') || compareText(a.path, b.path) || a.id - b.id

const compareText = (a: string, b: string) => (a < b ? -1 : a > b ? 1 : 0)
