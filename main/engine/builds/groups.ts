import type { Frame, MasterKind, Settings, TrainChange } from '../../contract/index.ts'
import { clusterAngles, clusterByGap, clusterExposures } from '../../frame/clusters.ts'
import { darkKey, flatKey, keyValue } from '../../frame/keys.ts'
import { createEpochs, type Epochs } from '../../match/epochs.ts'
import { obtain } from '../../match/memo.ts'
import { settingsOf } from '../../match/raw.ts'
import { temperatureOf } from '../../match/tolerance.ts'
import type { Steps } from '../slices.ts'
import { medianOf } from './belongs.ts'

/** Raw frames of one master to be. */
export interface RawSet {
  id: string
  kind: MasterKind
  /** In the order in which they were taken. */
  frames: Frame[]
  /** The first frame's, with the median temperature and, for flats, the median exposure. */
  settings: Settings
  epoch: string | null
}

/** Frames without a set point are told apart where no frame bridges more than this, °C. */
const TEMP_GAP_C = 1

const FRAMES_A_STEP = 500

/**
 * Groups raw calibration frames by key. Darks of several nights belong together; a dark and a dark flat of one key are physically one
 * thing, so the label of the most decides what the master is called. Flats are of one epoch, one night and one angle, and are not told
 * apart by exposure: auto-exposed ones vary.
 */
export function* groupRaw(frames: readonly Frame[], changes: readonly TrainChange[]): Steps<RawSet[]> {
  const epochs = createEpochs(changes)
  const byKey = new Map<string, Frame[]>()
  for (const [i, frame] of frames.entries()) {
    obtain(byKey, keyOf(frame, epochs), () => []).push(frame)
    if (i % FRAMES_A_STEP === 0) yield
  }
  const sets: RawSet[] = []
  for (const [key, group] of byKey) {
    sets.push(...split(group).map((part, i) => toSet(`${key}#${i}`, part.sort(byTime), epochs)))
    yield
  }
  return sets.sort((a, b) => compare(a.frames[0].startedAt ?? '', b.frames[0].startedAt ?? '') || compare(a.id, b.id))
}

function keyOf(frame: Frame, epochs: Epochs): string {
  const { kind, gain, offset, setTempC, rig, night } = frame
  const temp = keyValue(setTempC === null ? null : Math.round(setTempC * 10) / 10)
  if (kind !== 'flat') return [kind === 'bias' ? 'bias' : 'dark', darkKey(frame), temp].join('|')
  return ['flat', flatKey(frame), keyValue(gain), keyValue(offset), keyValue(rig), epochOf(frame, epochs), night].join(
    '|',
  )
}

function epochOf(frame: Frame, epochs: Epochs): string {
  const atMs = Date.parse(frame.startedAt ?? '')
  return Number.isNaN(atMs) ? '' : (epochs.at(frame.rig, frame.filter, atMs).id ?? '')
}

/** What a plain key cannot tell: fields with a tolerance. */
function split(group: Frame[]): Frame[][] {
  if (group[0].kind === 'flat') return clusterAngles(group)
  const parts = group[0].kind === 'bias' ? [group] : clusterExposures(group)
  return group[0].setTempC === null ? parts.flatMap((part) => clusterByGap(part, 'sensorTempC', TEMP_GAP_C)) : parts
}

function toSet(key: string, frames: Frame[], epochs: Epochs): RawSet {
  const kind = labelOf(frames)
  const settings = { ...settingsOf(frames[0]), ...(kind === 'flat' ? {} : noOptics) }
  const measured = medianOf(frames.flatMap((frame) => frame.sensorTempC ?? []))
  const exposures = medianOf(frames.flatMap((frame) => frame.exposureS ?? []))
  const flat = kind === 'flat'
  return {
    id: shortId(`${key}|${frames[0].exposureS}|${flat ? '' : temperatureOf(frames[0])}`),
    kind,
    frames,
    settings: { ...settings, sensorTempC: measured, exposureS: flat ? exposures : settings.exposureS },
    epoch: flat ? epochOf(frames[0], epochs) || null : null,
  }
}

/** No light passes through a dark: what stood before the camera makes no difference to it. */
const noOptics = { filter: null, telescope: null, focalMm: null, mechAngleDeg: null, skyAngleDeg: null }

function labelOf(frames: Frame[]): MasterKind {
  const darkFlats = frames.filter((frame) => frame.kind === 'darkFlat').length
  if (darkFlats > frames.length / 2) return 'darkFlat'
  return frames[0].kind === 'flat' || frames[0].kind === 'bias' ? frames[0].kind : 'dark'
}

const byTime = (a: Frame, b: Frame) => compare(a.startedAt ?? '', b.startedAt ?? '') || compare(a.path, b.path)
const compare = (a: string, b: string) => (a < b ? -1 : a > b ? 1 : 0)

/** 53 bits of a string hash (cyrb53), enough to tell the groups of a library apart. */
function shortId(text: string): string {
  let a = 0xdeadbeef
  let b = 0x41c6ce57
  for (let i = 0; i < text.length; i++) {
    a = Math.imul(a ^ text.charCodeAt(i), 2654435761)
    b = Math.imul(b ^ text.charCodeAt(i), 1597334677)
  }
  a = Math.imul(a ^ (a >>> 16), 2246822507) ^ Math.imul(b ^ (b >>> 13), 3266489909)
  b = Math.imul(b ^ (b >>> 16), 2246822507) ^ Math.imul(a ^ (a >>> 13), 3266489909)
  return (4294967296 * (2097151 & b) + (a >>> 0)).toString(36)
}
