import type { Figures, Frame, Master } from '../../../main/contract/index.ts'
import { defaultTolerances } from '../../../main/contract/index.ts'
import type { MatchContext } from '../../../main/match/context.ts'
import { sensorRulesFor } from '../../../main/rules/sensor-rules.ts'

export const figures = (over: Partial<Figures> = {}): Figures => ({
  width: 100,
  height: 80,
  median: 520,
  mean: 525,
  sd: 20,
  min: 400,
  max: 65535,
  clippedLow: 0,
  clippedHigh: 1,
  noise: 11,
  channels: null,
  ...over,
})

let nextId = 1
/** A dark of 300 s, unless said otherwise; each starts five minutes after the one before. */
export function frame(over: Partial<Frame> = {}): Frame {
  const id = nextId++
  return {
    id,
    path: `/capture/frame_${id}.fits`,
    kind: 'dark',
    kindFrom: 'header',
    camera: 'Heron 11C',
    body: 'H11-0042',
    width: 100,
    height: 80,
    originX: null,
    originY: null,
    binning: '1x1',
    readout: null,
    gain: 120,
    offset: 30,
    setTempC: -10,
    sensorTempC: -10,
    exposureS: 300,
    filter: null,
    telescope: 'Reed 80',
    focalMm: 432,
    mechAngleDeg: null,
    skyAngleDeg: null,
    cfa: 'RGGB',
    rowOrder: 'TOP-DOWN',
    rig: 'Roof',
    train: 'Reed',
    target: null,
    startedAt: new Date(Date.UTC(2026, 10, 20, 22, 5 * id)).toISOString(),
    night: '2026-11-20',
    aside: false,
    asideWhy: null,
    state: 'ok',
    program: null,
    combined: null,
    integrated: false,
    electronsPerAdu: null,
    pixelUm: null,
    siteLatDeg: null,
    siteLongDeg: null,
    conflicts: [],
    figures: figures(),
    ...over,
  }
}

export const frames = (count: number, over: Partial<Frame> | ((i: number) => Partial<Frame>) = {}): Frame[] =>
  Array.from({ length: count }, (_, i) => frame(typeof over === 'function' ? over(i) : over))

export const flat = (over: Partial<Frame> = {}): Partial<Frame> => ({
  kind: 'flat',
  exposureS: 3.2,
  filter: 'Ha',
  figures: figures({ median: 28000, mean: 27500, sd: 2800, noise: 350 }),
  ...over,
})

export const master = (over: Partial<Master> = {}): Master => {
  const { target: _t, ...like } = frame({ exposureS: 3.2 })
  return {
    ...like,
    id: 900,
    kind: 'darkFlat',
    frames: 20,
    madeAt: '2026-11-01T20:00:00.000Z',
    provenAt: null,
    ageDays: 20,
    epoch: null,
    state: 'ready',
    sha256: 'f'.repeat(64),
    scale: 'adu',
    subtracted: 'none',
    figures: null,
    sources: [],
    ...over,
  } as Master
}

export const context = (over: Partial<MatchContext> = {}): MatchContext => ({
  now: '2026-11-21T09:00:00.000Z',
  tolerances: defaultTolerances,
  sensorRules: sensorRulesFor({}),
  changes: [],
  ...over,
})
