import { describe, expect, test } from 'vitest'
import type { RigContext } from '../../main/frame/describe.ts'
import { describeCards, file, context } from './facts.ts'
import { describeFrame } from '../../main/frame/describe.ts'

const rig: RigContext = {
  name: 'Roof rig',
  train: 'Heron 80 with reducer',
  filter: 'dual band',
  body: 'The blue one',
  camera: 'Corvid 12',
  site: { latDeg: 47.1, longDeg: 8.3 },
}

describe('what a rig says', () => {
  test('fills what the header lacks: filter in the drawer, body, train and site', () => {
    expect(describeCards({ INSTRUME: 'Corvid 12' }, {}, { rig })).toMatchObject({
      rig: 'Roof rig',
      train: 'Heron 80 with reducer',
      filter: 'dual band',
      body: 'The blue one',
      siteLatDeg: 47.1,
      siteLongDeg: 8.3,
    })
  })

  test('stands behind what the header knows', () => {
    const cards = { INSTRUME: 'Corvid 12', FILTER: 'Ha', SERIALNO: 'A1', SITELAT: 10, SITELONG: 20 }
    expect(describeCards(cards, {}, { rig })).toMatchObject({
      filter: 'Ha',
      body: 'A1',
      siteLatDeg: 10,
      siteLongDeg: 20,
    })
  })

  test('a wheel that holds no filter leaves the drawer’s', () => {
    expect(describeCards({ FILTER: 'None' }, {}, { rig }).filter).toBe('dual band')
  })

  test('speaks only for its own camera, and for a frame that names none', () => {
    const other = describeCards({ INSTRUME: 'Guider' }, {}, { rig })
    expect(other).toMatchObject({ rig: null, train: null, filter: null, body: null, siteLatDeg: null })
    expect(describeCards({ INSTRUME: 'CORVID 12 ' }, {}, { rig }).rig).toBe('Roof rig')
    expect(describeCards({}, {}, { rig }).rig).toBe('Roof rig')
  })

  test('filters in conflict are not settled by the drawer', () => {
    expect(describeCards({ FILTER: 'Ha', FILTERS: 'OIII' }, {}, { rig }).filter).toBeNull()
  })
})

describe('what the user taught', () => {
  test('a spelling of the user’s own, with its unit', () => {
    const spellings = [{ keyword: 'BELICHT', setting: 'exposureS', unit: 'ms' }] as const
    expect(describeCards({ BELICHT: 2500 }, {}, { spellings }).exposureS).toBe(2.5)
  })

  test('a spelling taught for a known keyword replaces its meaning', () => {
    const spellings = [{ keyword: 'GAIN', setting: 'electronsPerAdu' }] as const
    expect(describeCards({ GAIN: 1.9 }, {}, { spellings })).toMatchObject({
      gain: null,
      electronsPerAdu: 1.9,
      conflicts: [],
    })
  })

  test('one answer about a program settles what its GAIN means, for its next version too', () => {
    const programs = [{ program: 'Kestrel', keyword: 'GAIN', means: 'gain' }] as const
    const cards = { SWCREATE: 'Kestrel 2.2', GAIN: 1.9 }
    expect(describeCards(cards).gain).toBeNull()
    expect(describeCards(cards, {}, { programs })).toMatchObject({ gain: 1.9, conflicts: [] })
    expect(describeCards({ ...cards, SWCREATE: 'Other 1' }, {}, { programs }).gain).toBeNull()
    expect(describeCards({ GAIN: 1.9 }, {}, { programs }).gain).toBeNull()
  })

  test('a keyword to ignore takes its conflict away', () => {
    const programs = [{ program: 'kestrel', keyword: 'EXPOSURE', means: 'ignore' }] as const
    const cards = { PROGRAM: 'KESTREL', EXPTIME: 300, EXPOSURE: 5 }
    expect(describeCards(cards).exposureS).toBeNull()
    expect(describeCards(cards, {}, { programs }).exposureS).toBe(300)
  })

  test('filters go by the user’s names', () => {
    const filterAliases = { 'Hydrogen 7': 'Ha 7nm', ha: 'Ha 7nm' }
    expect(describeCards({ FILTER: 'hydrogen  7' }, {}, { filterAliases }).filter).toBe('Ha 7nm')
    expect(describeCards({ FILTER: 'Ha' }, {}, { filterAliases }).filter).toBe('Ha 7nm')
  })
})

test('a record without a value indicator sets nothing, however much it looks like a keyword', () => {
  const cards = [{ keyword: 'GAIN', value: '100', comment: '', form: 'text' }]
  expect(describeFrame({ cards }, file, context).gain).toBeNull()
})

test('a conflict shows both keywords with their values, and says in a sentence what follows', () => {
  expect(describeCards({ EXPTIME: 300, EXPOSURE: 240 }).conflicts).toEqual([
    {
      setting: 'exposureS',
      found: [
        { keyword: 'EXPTIME', value: 300 },
        { keyword: 'EXPOSURE', value: 240 },
      ],
      text: 'EXPTIME says 300 and EXPOSURE says 240, so the exposure is unknown.',
    },
  ])
})
