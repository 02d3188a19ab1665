import {
  defaultTolerances,
  type Frame,
  type Master,
  type Settings,
  type TrainChange,
} from '../../main/contract/index.ts'
import type { MatchContext, RawGroup } from '../../main/match/context.ts'
import { sensorRulesFor } from '../../main/rules/sensor-rules.ts'

/** An invented camera and train that all cases start from; each case says only what it changes. */
export const settings: Settings = {
  camera: 'Owl 26C',
  body: null,
  width: 4144,
  height: 2822,
  originX: 0,
  originY: 0,
  binning: '1x1',
  readout: 0,
  gain: 120,
  offset: 30,
  setTempC: -10,
  sensorTempC: -10,
  exposureS: 300,
  filter: 'dual-band',
  telescope: 'Lark 80',
  focalMm: 480,
  mechAngleDeg: null,
  skyAngleDeg: null,
  cfa: 'RGGB',
  rowOrder: 'TOP-DOWN',
  rig: 'Fell End',
  train: null,
}

let lastId = 0

export function aFrame(changes: Partial<Frame> = {}): Frame {
  const id = changes.id ?? ++lastId
  return {
    ...settings,
    id,
    path: `/night/frame-${id}.fits`,
    kind: 'light',
    kindFrom: 'header',
    target: 'Heart 1',
    startedAt: '2026-11-20T22:00:00.000Z',
    night: '2026-11-20',
    aside: false,
    asideWhy: null,
    state: 'ok',
    program: 'Shutter 2.1',
    combined: null,
    electronsPerAdu: null,
    pixelUm: null,
    siteLatDeg: null,
    siteLongDeg: null,
    conflicts: [],
    figures: null,
    ...changes,
  }
}

export const aLight = (changes: Partial<Frame> = {}) => aFrame({ kind: 'light', ...changes })
export const aFlat = (changes: Partial<Frame> = {}) =>
  aFrame({ kind: 'flat', target: null, exposureS: 3.5, ...changes })

export function aMaster(changes: Partial<Master> = {}): Master {
  const id = changes.id ?? ++lastId
  return {
    ...settings,
    id,
    kind: 'dark',
    path: `/library/master-${id}.fits`,
    frames: 30,
    madeAt: '2026-10-10T12:00:00.000Z',
    provenAt: null,
    ageDays: null,
    epoch: null,
    state: 'ready',
    sha256: '',
    scale: 'adu',
    subtracted: 'none',
    program: null,
    figures: null,
    sources: [],
    ...changes,
  }
}

export const aMasterFlat = (changes: Partial<Master> = {}) =>
  aMaster({ kind: 'flat', exposureS: 3.5, subtracted: 'darkFlat', madeAt: '2026-11-02T06:00:00.000Z', ...changes })

export const aChange = (changes: Partial<TrainChange> = {}): TrainChange => ({
  id: ++lastId,
  rig: 'Fell End',
  scope: 'train',
  filter: null,
  at: '2026-11-20T19:40:00.000Z',
  text: 'cleaned the window',
  closes: false,
  undoneAt: null,
  ...changes,
})

export const aRawGroup = (changes: Partial<RawGroup> = {}): RawGroup => ({
  ...settings,
  kind: 'dark',
  count: 20,
  firstAt: '2026-11-20T18:00:00.000Z',
  lastAt: '2026-11-20T18:30:00.000Z',
  ...changes,
})

export const aContext = (changes: Partial<MatchContext> = {}): MatchContext => ({
  now: '2026-11-20T23:00:00.000Z',
  tolerances: defaultTolerances,
  sensorRules: sensorRulesFor({}),
  changes: [],
  ...changes,
})
