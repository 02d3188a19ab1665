import { describe, expect, test } from 'vitest'
import type { CoverageNeed, Master } from '../../../../main/contract/index.ts'
import { finish } from '../../../../renderer/parts/slices.ts'
import { draftGrid, gridGroups, nextCell } from '../../../../renderer/places/shelf/grid.ts'
import { cellLines, cellPlace, findWords, groupParts } from '../../../../renderer/places/shelf/grid-words.ts'
import { RowsBuilder } from '../../../../renderer/places/shelf/rows.ts'
import { scrollToRow, tableWindow } from '../../../../renderer/places/shelf/window.ts'
import { master, settings } from '../../support/night.ts'
import { shelfPageOf } from '../../support/shelf.ts'

const at = { nowMs: Date.parse('2026-11-21T01:54:30Z'), oldDays: 365 }
const need = (exposureS: number, more: Partial<CoverageNeed> = {}): CoverageNeed => ({
  kind: 'dark',
  verdict: 'due',
  counts: { due: 12 },
  settings: { ...settings, exposureS },
  nearest: null,
  text: 'none yet',
  frames: 12,
  totalS: 12 * exposureS,
  firstNight: '2026-11-19',
  lastNight: '2026-11-20',
  tonight: true,
  ...more,
})
function groups(masters: Master[], needs: CoverageNeed[] = []) {
  const builder = new RowsBuilder(masters.length)
  builder.add(shelfPageOf(masters))
  return gridGroups(finish(draftGrid(builder.build(), at)), needs)
}
const plainText = (text: string) => text.replaceAll(/[\u00a0\u202f]/g, ' ')

describe('the coverage grid', () => {
  test('has a group for each camera setting, a line for each exposure, a column for each temperature', () => {
    const [group, other] = groups([
      master,
      { ...master, id: 4, exposureS: 60 },
      { ...master, id: 5, exposureS: 60, setTempC: 0, sensorTempC: 0.1 },
      { ...master, id: 6, kind: 'darkFlat', exposureS: 3.5, setTempC: null, sensorTempC: -9.7 },
      { ...master, id: 7, gain: 200 },
      { ...master, id: 8, kind: 'flat' },
      { ...master, id: 9, state: 'retired', exposureS: 900 },
    ])
    expect(group!.tempsC).toEqual([-10, 0])
    expect(
      group!.lines.map(({ kind, exposureS, cells }) => [kind, exposureS, cells.map((c) => c?.word ?? null)]),
    ).toEqual([
      ['dark', 60, ['here', 'here']],
      ['dark', 300, ['here', null]],
      ['darkFlat', 3.5, ['here', null]],
    ])
    expect(groupParts(other!).map(plainText)).toEqual([
      'Kestrel 294C',
      'K294-0117',
      'gain 200',
      'offset 30',
      '4144 × 2822 px',
    ])
  })

  test('what lights lack comes before what is there, and the groups that tonight asks for come first', () => {
    const [asked, rest] = groups(
      [master, { ...master, id: 4, gain: 200 }, { ...master, id: 5, gain: 200 }],
      [need(180), need(300, { verdict: 'near', counts: { near: 12 } })],
    )
    expect(asked!.lacking).toBe(24)
    expect(asked!.lines.map(({ cells }) => cells[0]!.word)).toEqual(['due', 'near'])
    expect(rest!.masters).toBe(2)
    expect(cellLines('dark', asked!.lines[0]!.cells[0]!).map(plainText)).toEqual(['due', '12 lights wait'])
  })

  test('an old dark asks for a check unless it was proven since; one whose history is unknown says so', () => {
    const old = { ...master, madeAt: '2025-01-01T00:00:00Z' }
    const word = (one: Master) => groups([one])[0]!.lines[0]!.cells[0]!.word
    expect(word(old)).toBe('old')
    expect(word({ ...old, provenAt: '2026-10-01T00:00:00Z' })).toBe('here')
    expect(word({ ...master, scale: null })).toBe('unconfirmed')
  })

  test('the best of several stands for its cell: confirmed, young, proven, then the newest', () => {
    const [group] = groups([
      { ...master, id: 1, scale: null, madeAt: '2026-11-20T00:00:00Z' },
      { ...master, id: 2, madeAt: '2026-10-01T00:00:00Z' },
      { ...master, id: 3, madeAt: '2026-09-01T00:00:00Z', provenAt: '2026-11-01T00:00:00Z' },
      { ...master, id: 4, madeAt: '2025-01-01T00:00:00Z' },
    ])
    expect(group!.lines[0]!.cells[0]!.masters.map(({ id }) => id)).toEqual([3, 2, 4, 1])
  })

  test('a cell says where it stands to those who do not see it, and finds its masters in the table', () => {
    const [group] = groups(
      [master, { ...master, id: 4, frames: 20 }],
      [need(300, { verdict: 'matched', counts: { matched: 12 } })],
    )
    const [line] = group!.lines
    expect(plainText(cellPlace(line!, -10))).toBe('Dark 300 s at −10 °C: ')
    expect(cellLines('dark', line!.cells[0]!).map(plainText)).toEqual([
      '40 days',
      '2 masters, 30 frames',
      'for 12 lights',
    ])
    expect(findWords(group!, line!, -10)).toBe('ready darks 300 s -10 °C gain 120 offset 30')
  })

  test('arrows lead over empty cells to the next that has something, and stay at the edge', () => {
    const [group] = groups([
      master,
      { ...master, id: 4, exposureS: 60, setTempC: 0, sensorTempC: 0 },
      { ...master, id: 5, exposureS: 900 },
    ])
    const { lines } = group!
    expect(nextCell(lines, { line: 1, column: 0 }, 'ArrowDown')).toEqual({ line: 2, column: 0 })
    expect(nextCell(lines, { line: 2, column: 0 }, 'ArrowDown')).toEqual({ line: 2, column: 0 })
    expect(nextCell(lines, { line: 2, column: 0 }, 'ArrowUp')).toEqual({ line: 1, column: 0 })
    expect(nextCell(lines, { line: 1, column: 0 }, 'ArrowUp')).toEqual({ line: 1, column: 0 })
    expect(nextCell(lines, { line: 0, column: 1 }, 'Home')).toEqual({ line: 0, column: 1 })
  })
})

describe('the part of a long table that is drawn', () => {
  test.each([
    [0, 0, 28],
    [3800, 92, 128],
    [3_800_000, 99_972, 100_000],
  ])('scrolled to %d px it runs from row %d to %d, and the rest is room', (scrollPx, first, end) => {
    const drawn = tableWindow({ scrollPx, viewPx: 760, rowPx: 38, rows: 100_000 })
    expect([drawn.first, drawn.end]).toEqual([first, end])
    expect(drawn.beforePx + (end - first) * 38 + drawn.afterPx).toBe(3_800_000)
  })

  test('a short table is drawn whole, an empty one not at all', () => {
    expect(tableWindow({ scrollPx: 0, viewPx: 760, rowPx: 38, rows: 3 })).toMatchObject({
      first: 0,
      end: 3,
      afterPx: 0,
    })
    expect(tableWindow({ scrollPx: 50, viewPx: 760, rowPx: 38, rows: 0 })).toMatchObject({ first: 0, end: 0 })
  })

  test('a row that is seen needs no scrolling, others just as much as it takes', () => {
    const view = { viewPx: 400, rowPx: 40, headPx: 40 }
    expect(scrollToRow(5, { scrollPx: 0, ...view })).toBe(0)
    expect(scrollToRow(9, { scrollPx: 0, ...view })).toBe(40)
    expect(scrollToRow(2, { scrollPx: 400, ...view })).toBe(80)
  })
})
