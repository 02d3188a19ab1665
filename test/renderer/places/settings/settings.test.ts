import { describe, expect, test } from 'vitest'
import { defaultTolerances } from '../../../../main/contract/rules.ts'
import type { Rig } from '../../../../main/contract/index.ts'
import { defaultSensorRules } from '../../../../main/rules/sensor-rules.ts'
import { plain } from '../../../../renderer/parts/format.ts'
import { placeFrom, rigAsk, typedOf } from '../../../../renderer/places/settings/rig-form.ts'
import { ruleValue, SENSOR_RULES } from '../../../../renderer/places/settings/sensor-rules.ts'
import { shownTolerance, TOLERANCES, typedTolerance } from '../../../../renderer/places/settings/tolerances.ts'

const all = TOLERANCES.flatMap(({ of }) => of)
const named = (name: string) => all.find((words) => words.name === name)!

describe('tolerances', () => {
  test('every one of the contract has its field, once', () => {
    expect(all.map(({ name }) => name).toSorted()).toEqual(Object.keys(defaultTolerances).toSorted())
  })

  test('what is shown and kept again is what it was', () => {
    for (const words of all)
      expect(typedTolerance(words, shownTolerance(words, defaultTolerances[words.name]))).toBeCloseTo(
        defaultTolerances[words.name],
        12,
      )
  })

  test.each([
    ['tempC', '0,5', 0.5],
    ['tempC', '−1', null],
    ['tempC', 'warm', null],
    ['tempC', '', null],
    ['exposureFraction', '0.1', 0.001],
    ['darkCount', '20', 20],
    ['darkCount', '0', null],
    ['darkCount', '2.5', null],
  ])('%s typed as “%s” is %j', (name, text, value) => {
    expect(typedTolerance(named(name), text)).toBe(value)
  })
})

describe('sensor rules', () => {
  test('every limit of a class has its line', () => {
    const limits = Object.keys(defaultSensorRules.glow).filter((name) => name !== 'class' && name !== 'name')
    expect(SENSOR_RULES.map(({ name }) => name).toSorted()).toEqual(limits.toSorted())
  })

  test('are shown with their units', () => {
    const shown = SENSOR_RULES.map((rule) => plain(ruleValue(rule, defaultSensorRules.glow[rule.name].value)))
    expect(shown).toEqual(['3 s', '28 000 ADU of 16 bits', '30 %', '70 %', '30', 'no', 'yes', 'yes'])
  })
})

describe('a rig', () => {
  const rig: Rig = {
    name: 'Hill pier',
    folder: '/capture',
    camera: null,
    body: null,
    train: 'Refractor 478',
    filter: 'dual-band',
    site: { name: 'Fell End', latDeg: 54.2, longDeg: -2.1 },
    since: null,
    spans: [],
    filterByHand: true,
    frames: 214,
    lastFrameAt: null,
    epoch: 'Hill pier',
    epochSince: null,
  }

  test('left as it is asks for nothing but its name', () => {
    expect(rigAsk(rig, typedOf(rig))).toEqual({ name: 'Hill pier' })
  })

  test('only what changed is told, so that the rest holds since when it did; empty forgets', () => {
    expect(rigAsk(rig, { ...typedOf(rig), filter: ' luminance ', train: '' })).toEqual({
      name: 'Hill pier',
      filter: 'luminance',
      train: null,
    })
  })

  test('half a place is none', () => {
    expect(placeFrom({ siteName: 'Fell End', lat: '54.2', long: '' })).toBe(undefined)
    expect(placeFrom({ siteName: '', lat: '95', long: '2' })).toBe(undefined)
    expect(placeFrom({ siteName: '', lat: '54,2', long: '−2.1' })).toEqual({ name: null, latDeg: 54.2, longDeg: -2.1 })
    expect(placeFrom({ siteName: ' ', lat: '', long: '' })).toBe(null)
    expect(rigAsk(rig, { ...typedOf(rig), lat: 'north' })).toBe(null)
  })
})
