import { describe, expect, it } from 'vitest'
import type { Frame, Master, Need, VerdictWord } from '../../main/contract/index.ts'
import type { MatchContext } from '../../main/match/context.ts'
import { createJudge } from '../../main/match/judge.ts'
import { sensorRulesFor } from '../../main/rules/sensor-rules.ts'
import { aChange, aContext, aFlat, aLight, aMaster, aMasterFlat, aRawGroup } from './samples.ts'

/**
 * Each row: what is asked of a frame that differs from the sample (300 s, gain 120, offset 30, −10 °C, dual-band) only as said,
 * with the masters as said. `differs`: fields named, in order. `text`: all of what a person reads. Rules of matching: common
 * practice, no source.
 */
interface Case {
  says: string
  need: Need
  frame?: Partial<Frame>
  masters: Master[]
  context?: Partial<MatchContext>
  groupTempC?: number
  expect: VerdictWord
  differs?: string[]
  text?: string | RegExp
  /** Id of the master that is chosen or named. */
  id?: number
}

const dark = (changes: Partial<Master> = {}) => aMaster({ id: 1, kind: 'dark', ...changes })
const flat = (changes: Partial<Master> = {}) => aMasterFlat({ id: 1, ...changes })
const darkFlat = (changes: Partial<Master> = {}) => aMaster({ id: 1, kind: 'darkFlat', exposureS: 3.5, ...changes })
const bias = (changes: Partial<Master> = {}) => aMaster({ id: 1, kind: 'bias', exposureS: 0, ...changes })
const quiet = sensorRulesFor({ classOf: { 'owl 26c': 'quiet' } })

const darks: Case[] = [
  {
    says: 'equal in everything',
    need: 'dark',
    masters: [dark()],
    expect: 'matched',
    text: '41 days old, 30 frames, exact',
  },
  { says: 'empty shelf', need: 'dark', masters: [], expect: 'due', text: 'none yet' },
  {
    says: '0.5 °C apart is within',
    need: 'dark',
    masters: [dark({ sensorTempC: -9.5 })],
    expect: 'matched',
    text: '41 days old, 30 frames, 0.5 °C warmer',
  },
  {
    says: '0.5 °C colder too',
    need: 'dark',
    masters: [dark({ sensorTempC: -10.5 })],
    expect: 'matched',
    text: /0.5 °C colder$/,
  },
  {
    says: '0.6 °C is near',
    need: 'dark',
    masters: [dark({ sensorTempC: -9.4 })],
    expect: 'near',
    differs: ['sensorTempC'],
    text: '−9.4 °C, the light has −10.0 °C (41 days old, 30 frames)',
  },
  {
    says: '2 °C is near',
    need: 'dark',
    masters: [dark({ sensorTempC: -12 })],
    expect: 'near',
    differs: ['sensorTempC'],
  },
  {
    says: '2.1 °C is not',
    need: 'dark',
    masters: [dark({ sensorTempC: -12.1 })],
    expect: 'due',
    differs: ['sensorTempC'],
    id: 1,
  },
  {
    says: 'float noise of a header is no difference',
    need: 'dark',
    frame: { sensorTempC: -18.899999618530273 },
    masters: [dark({ sensorTempC: -18.4 })],
    expect: 'matched',
  },
  {
    says: 'measured temperature goes before the set point',
    need: 'dark',
    frame: { setTempC: -10, sensorTempC: -5 },
    masters: [dark()],
    expect: 'due',
    differs: ['sensorTempC'],
  },
  {
    says: 'set points where nothing was measured',
    need: 'dark',
    frame: { sensorTempC: null },
    masters: [dark({ sensorTempC: null, setTempC: -9 })],
    expect: 'near',
    differs: ['setTempC'],
  },
  {
    says: 'no temperature on either side counts as equal',
    need: 'dark',
    frame: { sensorTempC: null, setTempC: null },
    masters: [dark({ sensorTempC: null, setTempC: null })],
    expect: 'matched',
    text: '41 days old, 30 frames',
  },
  {
    says: 'no temperature on the master',
    need: 'dark',
    masters: [dark({ sensorTempC: null, setTempC: null })],
    expect: 'unconfirmed',
    differs: ['sensorTempC'],
    text: 'fits, but its temperature is not known',
  },
  {
    says: "the run's median speaks for a flickering frame",
    need: 'dark',
    frame: { sensorTempC: -9.3 },
    groupTempC: -10,
    masters: [dark()],
    expect: 'matched',
  },
  {
    says: 'a frame far off its run speaks for itself',
    need: 'dark',
    frame: { sensorTempC: -3 },
    groupTempC: -10,
    masters: [dark()],
    expect: 'due',
  },
  { says: '0.1 % of exposure is within', need: 'dark', masters: [dark({ exposureS: 300.3 })], expect: 'matched' },
  {
    says: '10 ms is within for a short one',
    need: 'dark',
    frame: { exposureS: 0.5 },
    masters: [dark({ exposureS: 0.51 })],
    expect: 'matched',
  },
  {
    says: '11 ms is near for a short one',
    need: 'dark',
    frame: { exposureS: 0.5 },
    masters: [dark({ exposureS: 0.511 })],
    expect: 'near',
    differs: ['exposureS'],
  },
  {
    says: '5 % of exposure is near',
    need: 'dark',
    masters: [dark({ exposureS: 285 })],
    expect: 'near',
    text: '285 s, the light has 300 s (41 days old, 30 frames)',
  },
  {
    says: 'more than 5 % is not, and nothing is scaled',
    need: 'dark',
    masters: [dark({ exposureS: 284 })],
    expect: 'due',
    differs: ['exposureS'],
    text: 'none yet; nearest: 284 s, the light has 300 s',
  },
  { says: 'half the exposure is never scaled up', need: 'dark', masters: [dark({ exposureS: 150 })], expect: 'due' },
  {
    says: 'near in both tolerance fields',
    need: 'dark',
    masters: [dark({ exposureS: 290, sensorTempC: -9 })],
    expect: 'near',
    differs: ['sensorTempC', 'exposureS'],
  },
  {
    says: 'other gain',
    need: 'dark',
    masters: [dark({ gain: 100 })],
    expect: 'due',
    differs: ['gain'],
    text: 'none yet; nearest: gain 100, the light has 120',
  },
  {
    says: 'other offset',
    need: 'dark',
    masters: [dark({ offset: 50 })],
    expect: 'due',
    differs: ['offset'],
    text: 'none yet; nearest: offset 50, the light has 30',
  },
  { says: 'gain as a word and as a number are one', need: 'dark', masters: [dark({ gain: '120' })], expect: 'matched' },
  { says: 'gain by name', need: 'dark', frame: { gain: 'HI' }, masters: [dark({ gain: 'hi ' })], expect: 'matched' },
  {
    says: 'offset unknown on the master',
    need: 'dark',
    masters: [dark({ offset: null })],
    expect: 'unconfirmed',
    differs: ['offset'],
    text: 'fits, but its offset is not known',
  },
  {
    says: 'offset unknown on the light',
    need: 'dark',
    frame: { offset: null },
    masters: [dark()],
    expect: 'unconfirmed',
    text: 'fits, but the light does not say its offset',
  },
  {
    says: 'offset unknown on both (a driver that never writes it)',
    need: 'dark',
    frame: { offset: null },
    masters: [dark({ offset: null })],
    expect: 'matched',
  },
  {
    says: 'unknown in one and off in another is worth shooting anew',
    need: 'dark',
    masters: [dark({ offset: null, sensorTempC: -9 })],
    expect: 'due',
    differs: ['sensorTempC', 'offset'],
  },
  {
    says: 'a stranger of whom four fields are unknown silences nothing',
    need: 'dark',
    masters: [dark({ offset: null, gain: null, readout: null, binning: null })],
    expect: 'due',
  },
  {
    says: 'exposure unknown on the master',
    need: 'dark',
    masters: [dark({ exposureS: null })],
    expect: 'unconfirmed',
    differs: ['exposureS'],
  },
  {
    says: 'exposure unknown on both sides is no agreement',
    need: 'dark',
    frame: { exposureS: null },
    masters: [dark({ exposureS: null })],
    expect: 'unconfirmed',
    text: 'fits, but its exposure is not known',
  },
  {
    says: 'other binning',
    need: 'dark',
    masters: [dark({ binning: '2x2', width: 2072, height: 1411 })],
    expect: 'due',
    differs: ['width', 'height', 'binning'],
  },
  {
    says: 'sub-frame of the same size elsewhere on the sensor',
    need: 'dark',
    frame: { width: 1000, height: 1000, originX: 10, originY: 0 },
    masters: [dark({ width: 1000, height: 1000 })],
    expect: 'due',
    differs: ['originX'],
  },
  {
    says: 'other readout mode',
    need: 'dark',
    masters: [dark({ readout: 1 })],
    expect: 'due',
    text: 'none yet; nearest: readout mode 1, the light has 0',
  },
  {
    says: 'other camera: not even nearest',
    need: 'dark',
    masters: [dark({ camera: 'Heron 6' })],
    expect: 'due',
    id: 0,
    text: 'none yet',
  },
  {
    says: 'other body of the same model',
    need: 'dark',
    frame: { body: 'A17' },
    masters: [dark({ body: 'B02' })],
    expect: 'due',
    id: 0,
  },
  {
    says: 'body known on the light alone',
    need: 'dark',
    frame: { body: 'A17' },
    masters: [dark({ rig: null })],
    expect: 'unconfirmed',
    differs: ['body'],
  },
  { says: 'the same rig is the same body', need: 'dark', frame: { body: 'A17' }, masters: [dark()], expect: 'matched' },
  {
    says: 'one body under two driver names',
    need: 'dark',
    frame: { body: 'A17', camera: 'Owl (USB)' },
    masters: [dark({ body: 'A17' })],
    expect: 'matched',
  },
  {
    says: 'one camera carried to another rig',
    need: 'dark',
    frame: { rig: 'Roof' },
    masters: [dark()],
    expect: 'matched',
  },
  {
    says: 'two cameras of one model in use, bodies unnamed',
    need: 'dark',
    frame: { rig: 'Roof' },
    masters: [dark()],
    context: { twins: ['Owl 26C'] },
    expect: 'unconfirmed',
    differs: ['body'],
  },
  {
    says: 'of twins, each by its own rig',
    need: 'dark',
    masters: [dark()],
    context: { twins: ['Owl 26C'] },
    expect: 'matched',
  },
  {
    says: 'a dark flat of the right length is a dark',
    need: 'dark',
    masters: [dark({ kind: 'darkFlat' })],
    expect: 'matched',
  },
  { says: 'a flat is none', need: 'dark', masters: [flat({ exposureS: 300 })], expect: 'due', id: 0 },
  {
    says: 'a bias never is',
    need: 'dark',
    frame: { exposureS: 0 },
    masters: [bias()],
    context: { sensorRules: quiet },
    expect: 'due',
    id: 0,
  },
  { says: 'retired', need: 'dark', masters: [dark({ state: 'retired' })], expect: 'due', id: 0 },
  { says: 'damaged', need: 'dark', masters: [dark({ state: 'damaged' })], expect: 'due', id: 0 },
  {
    says: 'scale unknown',
    need: 'dark',
    masters: [dark({ scale: null })],
    expect: 'unconfirmed',
    differs: ['scale'],
    text: 'fits, but its scale (ADU or 0–1) is not known',
  },
  {
    says: 'history unknown',
    need: 'dark',
    masters: [dark({ subtracted: null })],
    expect: 'unconfirmed',
    differs: ['subtracted'],
  },
  { says: 'scale 0–1 is known', need: 'dark', masters: [dark({ scale: 'unit' })], expect: 'matched' },
  {
    says: 'bias already subtracted leaves the bias in the light',
    need: 'dark',
    masters: [dark({ subtracted: 'bias' })],
    expect: 'due',
    differs: ['subtracted'],
    text: 'none yet; nearest: bias already subtracted',
  },
  {
    says: 'colour pattern differs: a warning',
    need: 'dark',
    masters: [dark({ cfa: 'GRBG' })],
    expect: 'matched',
    differs: ['cfa'],
    text: '41 days old, 30 frames, exact, colour pattern GRBG, the light has RGGB',
  },
  {
    says: 'raw darks ready to be built',
    need: 'dark',
    masters: [],
    context: { raw: [aRawGroup({ count: 20 })] },
    expect: 'due',
    text: '20 darks are there, ready to be built',
  },
  {
    says: 'too few raw darks',
    need: 'dark',
    masters: [],
    context: { raw: [aRawGroup({ count: 6 })] },
    expect: 'due',
    text: '6 darks are there, 20 wanted',
  },
  {
    says: 'one raw dark',
    need: 'dark',
    masters: [],
    context: { raw: [aRawGroup({ count: 1 })] },
    expect: 'due',
    text: '1 dark is there, 20 wanted',
  },
  {
    says: 'raw darks of another exposure do not count',
    need: 'dark',
    masters: [],
    context: { raw: [aRawGroup({ exposureS: 299 })] },
    expect: 'due',
    text: 'none yet',
  },
  {
    says: 'camera gone',
    need: 'dark',
    masters: [],
    context: { gone: ['owl 26c'] },
    expect: 'missing',
    text: 'none, and the camera is gone',
  },
  {
    says: 'camera gone, but its dark is there',
    need: 'dark',
    masters: [dark()],
    context: { gone: ['Owl 26C'] },
    expect: 'matched',
  },
  {
    says: 'closest temperature first',
    need: 'dark',
    masters: [dark({ sensorTempC: -10.4 }), dark({ id: 2, sensorTempC: -9.9 })],
    expect: 'matched',
    id: 2,
  },
  {
    says: 'below 0.1 °C it is not the thermometer that chooses',
    need: 'dark',
    masters: [dark({ sensorTempC: -10, madeAt: '2024-01-01T00:00:00Z' }), dark({ id: 2, sensorTempC: -10.04 })],
    expect: 'matched',
    id: 2,
  },
  {
    says: 'then closest exposure',
    need: 'dark',
    masters: [dark({ exposureS: 300.2 }), dark({ id: 2 })],
    expect: 'matched',
    id: 2,
  },
  {
    says: 'then proven',
    need: 'dark',
    masters: [dark(), dark({ id: 2, madeAt: '2025-01-01T00:00:00Z', provenAt: '2026-11-01T00:00:00Z' })],
    expect: 'matched',
    id: 2,
  },
  {
    says: 'then the newest of those with frames enough',
    need: 'dark',
    masters: [
      dark({ madeAt: '2026-11-19T00:00:00Z', frames: 5 }),
      dark({ id: 2, madeAt: '2026-01-01T00:00:00Z' }),
      dark({ id: 3, madeAt: '2026-05-01T00:00:00Z' }),
    ],
    expect: 'matched',
    id: 3,
  },
  {
    says: 'a match goes before a near one',
    need: 'dark',
    masters: [dark({ sensorTempC: -9 }), dark({ id: 2, sensorTempC: -10.5 })],
    expect: 'matched',
    id: 2,
  },
  {
    says: 'near goes before unconfirmed',
    need: 'dark',
    masters: [dark({ offset: null }), dark({ id: 2, sensorTempC: -9 })],
    expect: 'near',
    id: 2,
  },
  {
    says: 'the nearest has the fewest fields off',
    need: 'dark',
    masters: [dark({ gain: 0, offset: 50 }), dark({ id: 2, offset: 50 })],
    expect: 'due',
    id: 2,
  },
  {
    says: 'nearest: one of another offset tells more than one of another length',
    need: 'dark',
    frame: { offset: 50 },
    masters: [dark(), dark({ id: 2, offset: 50, exposureS: 60 })],
    expect: 'due',
    id: 1,
  },
]

const train = (at = '2026-11-10T19:00:00Z') => [aChange({ id: 7, at })]
const flats: Case[] = [
  { says: 'of this epoch', need: 'flat', masters: [flat()], expect: 'matched', text: '18 days old, 30 frames' },
  {
    says: 'shot after the lights, in the same epoch',
    need: 'flat',
    masters: [flat({ madeAt: '2026-11-21T05:00:00Z' })],
    expect: 'matched',
  },
  { says: 'none', need: 'flat', masters: [], expect: 'due', text: 'none yet' },
  {
    says: 'none since a change',
    need: 'flat',
    masters: [],
    context: { changes: train() },
    expect: 'due',
    text: 'none since the train was changed',
  },
  { says: 'exposure, being its own, is no matter', need: 'flat', masters: [flat({ exposureS: 9 })], expect: 'matched' },
  {
    says: 'other filter',
    need: 'flat',
    masters: [flat({ filter: 'L' })],
    expect: 'due',
    text: 'none yet; nearest: filter L, the light has dual-band',
  },
  { says: 'filter in another spelling', need: 'flat', masters: [flat({ filter: 'Dual-Band ' })], expect: 'matched' },
  {
    says: 'filter unknown on the master',
    need: 'flat',
    masters: [flat({ filter: null })],
    expect: 'unconfirmed',
    differs: ['filter'],
  },
  {
    says: 'filter unknown on both',
    need: 'flat',
    frame: { filter: null },
    masters: [flat({ filter: null })],
    expect: 'matched',
  },
  { says: 'other gain is near', need: 'flat', masters: [flat({ gain: 0 })], expect: 'near', differs: ['gain'] },
  {
    says: 'other offset is near',
    need: 'flat',
    frame: { offset: 50 },
    masters: [flat()],
    expect: 'near',
    differs: ['offset'],
    text: 'offset 30, the light has 50 (18 days old, 30 frames)',
  },
  {
    says: 'gain does not matter to a quiet sensor',
    need: 'flat',
    masters: [flat({ gain: 0 })],
    context: { sensorRules: quiet },
    expect: 'matched',
  },
  { says: 'other binning', need: 'flat', masters: [flat({ binning: '2x2' })], expect: 'due', differs: ['binning'] },
  { says: 'other sub-frame', need: 'flat', masters: [flat({ originX: 100 })], expect: 'due', differs: ['originX'] },
  { says: 'other readout mode', need: 'flat', masters: [flat({ readout: 1 })], expect: 'due', differs: ['readout'] },
  {
    says: '6 °C warmer is noted and blocks nothing',
    need: 'flat',
    masters: [flat({ sensorTempC: -4 })],
    expect: 'matched',
    differs: ['sensorTempC'],
    text: '18 days old, 30 frames, taken at −4.0 °C, the light at −10.0 °C',
  },
  {
    says: '5 °C is not worth a word',
    need: 'flat',
    masters: [flat({ sensorTempC: -5 })],
    expect: 'matched',
    differs: [],
  },
  {
    says: 'rotator within a degree, over north',
    need: 'flat',
    frame: { mechAngleDeg: 359.5 },
    masters: [flat({ mechAngleDeg: 0.4 })],
    expect: 'matched',
  },
  {
    says: 'rotator elsewhere chooses another flat',
    need: 'flat',
    frame: { mechAngleDeg: 90 },
    masters: [flat({ mechAngleDeg: 92 })],
    expect: 'due',
    differs: ['mechAngleDeg'],
    text: 'none yet; nearest: rotator angle 92°, the light has 90°',
  },
  {
    says: 'rotator turned by half a turn is another picture',
    need: 'flat',
    frame: { mechAngleDeg: 90 },
    masters: [flat({ mechAngleDeg: 270 })],
    expect: 'due',
  },
  {
    says: 'rotator unknown on the master',
    need: 'flat',
    frame: { mechAngleDeg: 90 },
    masters: [flat()],
    expect: 'unconfirmed',
    differs: ['mechAngleDeg'],
  },
  {
    says: 'the sky angle decides nothing',
    need: 'flat',
    frame: { skyAngleDeg: 12 },
    masters: [flat({ skyAngleDeg: 192 })],
    expect: 'matched',
  },
  {
    says: 'the closest angle first',
    need: 'flat',
    frame: { mechAngleDeg: 90 },
    masters: [flat({ mechAngleDeg: 90.9 }), flat({ id: 2, mechAngleDeg: 90.1, madeAt: '2026-01-01T00:00:00Z' })],
    expect: 'matched',
    id: 2,
  },
  {
    says: 'the nearest in time, before or after',
    need: 'flat',
    masters: [flat({ madeAt: '2026-11-10T00:00:00Z' }), flat({ id: 2, madeAt: '2026-11-23T00:00:00Z' })],
    expect: 'matched',
    id: 2,
  },
  {
    says: 'dusk and dawn are equally near: the one with more frames',
    need: 'flat',
    masters: [
      flat({ madeAt: '2026-11-20T16:00:00Z', frames: 20 }),
      flat({ id: 2, madeAt: '2026-11-21T06:00:00Z', frames: 40 }),
    ],
    expect: 'matched',
    id: 2,
  },
  {
    says: 'before the change, unproven',
    need: 'flat',
    masters: [flat()],
    context: { changes: train() },
    expect: 'near',
    differs: ['epoch'],
    text: 'taken before the train was changed, not proven since (18 days old, 30 frames)',
  },
  {
    says: 'before the change, and a check flat held since',
    need: 'flat',
    masters: [flat({ provenAt: '2026-11-20T18:00:00Z' })],
    context: { changes: train() },
    expect: 'matched',
  },
  {
    says: 'proven, but before the change',
    need: 'flat',
    masters: [flat({ provenAt: '2026-11-05T18:00:00Z' })],
    context: { changes: train() },
    expect: 'near',
  },
  {
    says: 'held by a check after the night: it held during it',
    need: 'flat',
    masters: [flat({ provenAt: '2026-11-24T18:00:00Z' })],
    context: { changes: [...train(), aChange({ at: '2026-11-22T12:00:00Z' })] },
    expect: 'matched',
  },
  {
    says: 'a change that was taken back',
    need: 'flat',
    masters: [flat()],
    context: { changes: [aChange({ at: '2026-11-10T19:00:00Z', undoneAt: '2026-11-11T00:00:00Z' })] },
    expect: 'matched',
  },
  {
    says: "another filter's change",
    need: 'flat',
    masters: [flat()],
    context: { changes: [aChange({ at: '2026-11-10T19:00:00Z', scope: 'filter', filter: 'L' })] },
    expect: 'matched',
  },
  {
    says: "this filter's change",
    need: 'flat',
    masters: [flat()],
    context: { changes: [aChange({ at: '2026-11-10T19:00:00Z', scope: 'filter', filter: 'Dual-band' })] },
    expect: 'near',
  },
  {
    says: "another rig's change",
    need: 'flat',
    masters: [flat()],
    context: { changes: [aChange({ at: '2026-11-10T19:00:00Z', rig: 'Roof' })] },
    expect: 'matched',
  },
  {
    says: 'epoch closed without any',
    need: 'flat',
    masters: [],
    context: { changes: train('2026-11-21T07:00:00Z') },
    expect: 'lost',
    text: 'none was shot before the train was changed',
  },
  {
    says: 'epoch closed, a later flat does not cover it',
    need: 'flat',
    masters: [flat({ madeAt: '2026-11-21T18:00:00Z' })],
    context: { changes: train('2026-11-21T07:00:00Z') },
    expect: 'lost',
    differs: ['epoch'],
    text: 'none was shot before the train was changed; nearest: taken after the train was changed',
  },
  {
    says: 'a later flat held against a frame of the epoch does',
    need: 'flat',
    masters: [flat({ madeAt: '2026-11-21T18:00:00Z' })],
    context: { changes: train('2026-11-21T07:00:00Z'), proofs: [{ master: 1, at: '2026-11-21T05:00:00Z' }] },
    expect: 'matched',
  },
  {
    says: 'epoch closed, its flats wait to be built',
    need: 'flat',
    masters: [],
    context: {
      changes: train('2026-11-21T07:00:00Z'),
      raw: [aRawGroup({ kind: 'flat', count: 25, exposureS: 3.5, firstAt: '2026-11-21T05:00:00Z' })],
    },
    expect: 'due',
    text: '25 flats are there, ready to be built',
  },
  {
    says: 'raw flats of another epoch do not count',
    need: 'flat',
    masters: [],
    context: {
      changes: train('2026-11-21T07:00:00Z'),
      raw: [aRawGroup({ kind: 'flat', count: 25, firstAt: '2026-11-22T05:00:00Z' })],
    },
    expect: 'lost',
  },
  {
    says: 'date unknown, and the train was changed',
    need: 'flat',
    masters: [flat({ madeAt: null })],
    context: { changes: train() },
    expect: 'unconfirmed',
    text: 'fits, but its date is not known',
  },
  {
    says: 'date unknown, and nothing was ever changed',
    need: 'flat',
    masters: [flat({ madeAt: null })],
    expect: 'matched',
    text: 'age unknown, 30 frames',
  },
  { says: 'camera gone', need: 'flat', masters: [], context: { gone: ['Owl 26C'] }, expect: 'missing' },
  { says: 'another rig', need: 'flat', masters: [flat({ rig: 'Roof' })], expect: 'due', differs: ['rig'] },
  {
    says: 'another train by name',
    need: 'flat',
    frame: { train: 'Lark with reducer' },
    masters: [flat({ train: 'Lark' })],
    expect: 'due',
    differs: ['train'],
  },
  {
    says: 'one train by name, though the folder is another',
    need: 'flat',
    frame: { train: 'Lark', rig: 'Roof' },
    masters: [flat({ train: 'lark' })],
    expect: 'matched',
  },
  {
    says: 'the same rig, though TELESCOP is empty at dawn',
    need: 'flat',
    masters: [flat({ telescope: null, focalMm: null })],
    expect: 'matched',
  },
  { says: 'from elsewhere, the same telescope', need: 'flat', masters: [flat({ rig: null })], expect: 'matched' },
  {
    says: 'from elsewhere, another telescope',
    need: 'flat',
    masters: [flat({ rig: null, telescope: 'Newt 200' })],
    expect: 'due',
    differs: ['telescope'],
  },
  {
    says: 'from elsewhere, with a reducer',
    need: 'flat',
    masters: [flat({ rig: null, telescope: null, focalMm: 384 })],
    expect: 'due',
    differs: ['focalMm'],
  },
  {
    says: 'from elsewhere, focal length as solved',
    need: 'flat',
    masters: [flat({ rig: null, focalMm: 478.3 })],
    expect: 'matched',
  },
  {
    says: 'from elsewhere, the train has a name here',
    need: 'flat',
    frame: { train: 'Lark' },
    masters: [flat({ rig: null })],
    expect: 'unconfirmed',
    differs: ['train'],
  },
  {
    says: "from elsewhere, before a change of the light's rig",
    need: 'flat',
    masters: [flat({ rig: null })],
    context: { changes: train() },
    expect: 'near',
    differs: ['epoch'],
  },
  { says: 'scale unknown', need: 'flat', masters: [flat({ scale: null })], expect: 'unconfirmed' },
  {
    says: 'nothing subtracted is known too',
    need: 'flat',
    masters: [flat({ subtracted: 'none' })],
    expect: 'matched',
    differs: [],
  },
  {
    says: 'bias subtracted: a glow sensor is told',
    need: 'flat',
    masters: [flat({ subtracted: 'bias' })],
    expect: 'matched',
    text: '18 days old, 30 frames, bias subtracted, not a dark flat',
  },
  {
    says: 'bias subtracted: fine for a quiet one',
    need: 'flat',
    masters: [flat({ subtracted: 'bias' })],
    context: { sensorRules: quiet },
    expect: 'matched',
    differs: [],
  },
]

const darkFlats: Case[] = [
  { says: 'equal', need: 'darkFlat', masters: [darkFlat()], expect: 'matched' },
  { says: 'a dark of the right length', need: 'darkFlat', masters: [darkFlat({ kind: 'dark' })], expect: 'matched' },
  {
    says: '10 % of exposure is near',
    need: 'darkFlat',
    masters: [darkFlat({ exposureS: 3.2 })],
    expect: 'near',
    text: '3.2 s, the flat has 3.5 s (41 days old, 30 frames)',
  },
  {
    says: 'digits swapped',
    need: 'darkFlat',
    masters: [darkFlat({ exposureS: 5.3 })],
    expect: 'due',
    differs: ['exposureS'],
  },
  { says: 'other filter is no matter', need: 'darkFlat', masters: [darkFlat({ filter: 'L' })], expect: 'matched' },
  { says: 'bias in the glow class', need: 'darkFlat', masters: [bias()], expect: 'due', id: 0 },
  {
    says: 'bias in the quiet class',
    need: 'darkFlat',
    masters: [bias()],
    context: { sensorRules: quiet },
    expect: 'matched',
    text: 'a bias stands in, 41 days old, 30 frames, exact',
  },
  {
    says: 'a dark flat goes before a newer bias',
    need: 'darkFlat',
    masters: [bias({ madeAt: '2026-11-19T00:00:00Z' }), darkFlat({ id: 2 })],
    context: { sensorRules: quiet },
    expect: 'matched',
    id: 2,
  },
  {
    says: 'bias of another gain',
    need: 'darkFlat',
    masters: [bias({ gain: 0 })],
    context: { sensorRules: quiet },
    expect: 'due',
    differs: ['gain'],
  },
  {
    says: 'raw dark flats there',
    need: 'darkFlat',
    masters: [],
    context: { raw: [aRawGroup({ kind: 'darkFlat', exposureS: 3.5, count: 20 })] },
    expect: 'due',
    text: '20 dark flats are there, ready to be built',
  },
  {
    says: 'raw frames labelled plain dark count',
    need: 'darkFlat',
    masters: [],
    context: { raw: [aRawGroup({ kind: 'dark', exposureS: 3.5, count: 20 })] },
    expect: 'due',
    text: '20 dark flats are there, ready to be built',
  },
]

const verdictOf = (c: Case) => {
  const frame = c.need === 'darkFlat' ? aFlat(c.frame) : aLight(c.frame)
  return createJudge(c.masters, aContext(c.context))(frame, c.groupTempC ?? null)[c.need]
}

describe.each([
  ['the dark of a light', darks],
  ['the flat of a light', flats],
  ['the dark flat of a flat', darkFlats],
])('%s', (_, cases) => {
  it.each(cases.map((c) => [`is ${c.expect}: ${c.says}`, c] as const))('%s', (_title, c) => {
    const verdict = verdictOf(c)
    expect(verdict?.verdict).toBe(c.expect)
    if (c.differs) expect(verdict?.differences.map((d) => d.field)).toEqual(c.differs)
    if (c.text instanceof RegExp) expect(verdict?.text).toMatch(c.text)
    else if (c.text !== undefined) expect(verdict?.text).toBe(c.text)
    if (c.id !== undefined) expect(verdict?.master ?? verdict?.nearest ?? 0).toBe(c.id)
    expect(verdict?.master === null, 'only a match has a master').toBe(c.expect !== 'matched')
  })
})

describe('a difference', () => {
  it('names the field with the value of each side', () => {
    const verdict = createJudge([dark({ offset: 50 })], aContext())(aLight()).dark
    expect(verdict?.differences).toEqual([{ field: 'offset', light: 30, master: 50 }])
    expect(verdict?.nearest).toBe(1)
  })

  it('names the epochs of both where the flat is of an earlier one', () => {
    const verdict = createJudge([flat()], aContext({ changes: train() }))(aLight()).flat
    expect(verdict?.differences).toEqual([{ field: 'epoch', light: 'Fell End/7', master: 'Fell End/0' }])
  })
})

describe('a frame that needs nothing', () => {
  const judge = createJudge([dark(), flat({ id: 2 })], aContext())
  it.each([
    ['set aside', { aside: true }],
    ['broken', { state: 'broken' as const }],
    ['still being written', { state: 'incomplete' as const }],
    ['gone', { state: 'gone' as const }],
    ['a dark', { kind: 'dark' as const }],
    ['a bias', { kind: 'bias' as const }],
    ['of unknown kind', { kind: 'unknown' as const }],
    ['integrated from many', { combined: 30 }],
    ['a master by its name', { integrated: true }],
  ])('is %s', (_, changes) => expect(judge(aLight(changes))).toEqual({}))

  it('is not one that is merely out of reach', () =>
    expect(judge(aLight({ state: 'out of reach' })).dark?.verdict).toBe('matched'))
})
