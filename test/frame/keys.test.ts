import { describe, expect, test } from 'vitest'
import { compareField, darkFields, darkKey, flatFields, flatKey, keyValue } from '../../main/frame/keys.ts'
import { describeCards } from './facts.ts'

const light = describeCards({
  INSTRUME: 'Corvid 12',
  GAIN: 100,
  OFFSET: 30,
  XBINNING: 1,
  YBINNING: 1,
  XORGSUBF: 0,
  YORGSUBF: 0,
  READOUTM: 'Low noise',
  FILTER: 'Ha',
  EXPTIME: 300,
  'CCD-TEMP': -10,
})

describe('the key of a dark', () => {
  test.each(darkFields)('changes with %s', (field) => {
    const other = { ...light, [field]: typeof light[field] === 'number' ? light[field] + 1 : 'other' }
    expect(darkKey(other)).not.toBe(darkKey(light))
  })

  test.each(['filter', 'exposureS', 'sensorTempC', 'setTempC', 'target', 'skyAngleDeg', 'cfa', 'train'] as const)(
    'does not change with %s',
    (field) => {
      expect(darkKey({ ...light, [field]: 'other' })).toBe(darkKey(light))
    },
  )
})

describe('the key of a flat', () => {
  test.each(flatFields)('changes with %s', (field) => {
    const other = { ...light, [field]: typeof light[field] === 'number' ? light[field] + 1 : 'other' }
    expect(flatKey(other)).not.toBe(flatKey(light))
  })

  test.each(['gain', 'offset', 'exposureS', 'sensorTempC', 'mechAngleDeg', 'skyAngleDeg'] as const)(
    'does not change with %s',
    (field) => {
      expect(flatKey({ ...light, [field]: 7 })).toBe(flatKey(light))
    },
  )
})

describe('how values are compared', () => {
  test.each([
    ['unknown on both sides', null, null, 'equal'],
    ['unknown on one side', 30, null, 'unconfirmed'],
    ['unknown on the other', null, 'HI', 'unconfirmed'],
    ['other numbers', 30, 50, 'differs'],
    ['nought and unknown', 0, null, 'unconfirmed'],
    ['a number and the same as text', 100, '100', 'equal'],
    ['a label in another case', 'Low Noise', 'LOW  noise ', 'equal'],
    ['a float32 and its decimal', 0.10000000149011612, 0.1, 'equal'],
    ['minus nought', -0, 0, 'equal'],
    ['no filter and an unknown one', 'none', null, 'unconfirmed'],
  ] as const)('%s', (_what, a, b, verdict) => {
    expect(compareField(a, b)).toBe(verdict)
    expect(compareField(b, a)).toBe(verdict)
  })

  test('unknown stands in a key as itself, so that it equals only unknown', () => {
    const without = { ...light, offset: null }
    expect(darkKey(without)).toBe(darkKey({ ...without }))
    for (const offset of [0, '', 'null', '\u0000x']) expect(darkKey({ ...light, offset })).not.toBe(darkKey(without))
    expect(keyValue(null)).toBeNull()
  })
})
