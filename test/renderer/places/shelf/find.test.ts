import { describe, expect, test } from 'vitest'
import { findRows, readWords } from '../../../../renderer/places/shelf/find.ts'
import { Sorter } from '../../../../renderer/places/shelf/order.ts'
import { RowsBuilder } from '../../../../renderer/places/shelf/rows.ts'
import { master, masters } from '../../support/night.ts'
import { shelfPageOf } from '../../support/shelf.ts'

const nowMs = Date.parse('2026-11-21T01:54:30Z')
const shelf = [
  ...masters,
  { ...master, id: 8, kind: 'bias' as const, exposureS: 0.001 },
  { ...master, id: 9, exposureS: 30, sensorTempC: 4.8, setTempC: 5, madeAt: '2025-09-01T00:00:00Z', gain: 'HI' },
  { ...master, id: 10, exposureS: 1200, provenAt: '2026-11-01T00:00:00Z', binning: '2x2', camera: 'Merlin 571M' },
]

function rowsOf(all = shelf) {
  const builder = new RowsBuilder(all.length)
  builder.add(shelfPageOf(all))
  return builder.build()
}
const rows = rowsOf()
const context = { rows, nowMs, used: new Set([3]), near: new Set([4]), oldDays: 365 }
const order = Uint32Array.from(rows.id, (_, row) => row)

const found = (typed: string) => [...findRows(order, readWords(typed, context))].map((row) => rows.id[row])
const read = (typed: string) => readWords(typed, context).map(({ says }) => says)

describe('finding masters by plain words', () => {
  test.each([
    ['', [3, 4, 5, 6, 7, 8, 9, 10]],
    ['flat dark', [5]],
    ['dark flat', [5]],
    ['Darkflats', [5]],
    ['dark for flats', [5]],
    ['flat-dark', [5]],
    ['dark fl', [5]],
    ['flats', [6]],
    ['dark', [3, 4, 7, 9, 10]],
    ['bias unwanted', [8]],
    ['DUAL', [6]],
    ['band', [6]],
    ['300 s', [3]],
    ['300s dark', [3]],
    ['5 min', [3]],
    ['1 ms', [8]],
    ['gain unknown', [7]],
    ['gain not known', [7]],
    ['no filter 1200', [10]],
    ['gain hi', [9]],
    ['offset 30 kestrel 180', [4]],
    ['-10 kestrel dark 180', [4]],
    ['−10 180', [4]],
    ['5 °C', [9]],
    ['warmer than 0', [9]],
    ['colder than -9 300 s', [3]],
    ['retired', [7]],
    ['not ready', [7]],
    ['proven', [10]],
    ['not proven dark 30 s', [9]],
    ['unproven dark 30 s', [9]],
    ['used', [3]],
    ['in use', [3]],
    ['near', [4]],
    ['unused 300 s', []],
    ['unconfirmed', [7]],
    ['older than a year', [9]],
    ['old', [9]],
    ['newer than 2 months longer than 60 s ready', [3, 4, 10]],
    ['fewer than 25 frames', [4, 5]],
    ['30 frames 1200', [10]],
    ['2x2', [10]],
    ['binning 2x2', [10]],
    ['merlin', [10]],
    ['nonsense', []],
  ])('“%s” finds %j', (typed, ids) => {
    expect(found(typed)).toEqual(ids)
  })

  test('a word that is still being typed asks nothing yet, or for what begins so', () => {
    expect(found('gain')).toEqual(found(''))
    expect(found('gain 1')).toEqual(found('gain 120'))
    expect(found('older than')).toEqual(found(''))
    expect(found('not')).toEqual(found(''))
    expect(found('dark fl ')).toEqual([])
  })

  test('what was understood is told back in words', () => {
    expect(read('flat dark 300s -10 gain 120 not retired older than a year')).toEqual([
      'dark flats',
      '300\u00a0s',
      '\u221210\u00a0°C',
      'gain 120',
      'not retired',
      'older than a year',
    ])
  })

  test('while it is not known what lights use, such words hold nothing back', () => {
    const early = readWords('used near', { ...context, used: null, near: null })
    expect(findRows(order, early)).toHaveLength(rows.count)
  })
})

describe('the order of the table', () => {
  const ids = (by: Parameters<Sorter['order']>[0]) => [...new Sorter(rows).order(by)].map((row) => rows.id[row])

  test('is by kind, camera, filter, exposure and temperature at first', () => {
    expect(ids({ by: null, descending: false })).toEqual([9, 7, 4, 3, 10, 5, 6, 8])
  })

  test('by a column: numbers by size, words as in a dictionary, unknown ones last either way', () => {
    expect(ids({ by: 'exposureS', descending: false }).slice(0, 3)).toEqual([8, 6, 5])
    expect(ids({ by: 'exposureS', descending: true }).slice(0, 3)).toEqual([10, 3, 4])
    expect(ids({ by: 'frames', descending: false }).at(-1)).toBe(7)
    expect(ids({ by: 'frames', descending: true }).at(-1)).toBe(7)
    expect(ids({ by: 'camera', descending: true })[0]).toBe(10)
    expect(ids({ by: 'temperature', descending: true })[0]).toBe(9)
  })
})

test('a hundred thousand masters are sorted and searched as a few are', () => {
  const many = Array.from({ length: 100_000 }, (_, index) => ({ ...shelf[index % shelf.length]!, id: index + 1 }))
  const builder = new RowsBuilder(many.length)
  for (let from = 0; from < many.length; from += 10_000) builder.add(shelfPageOf(many.slice(from, from + 10_000)))
  const large = builder.build()
  expect(large.count).toBe(100_000)
  const sorted = new Sorter(large).order({ by: 'exposureS', descending: true })
  const dark = findRows(sorted, readWords('flat dark 3.5 s', { ...context, rows: large }))
  expect(dark).toHaveLength(12_500)
  expect(new Set(dark).size).toBe(12_500)
})
