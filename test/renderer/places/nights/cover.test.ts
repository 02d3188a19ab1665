import { describe, expect, test, vi } from 'vitest'
import { plain } from '../../../../renderer/parts/format.ts'
import { coverOf, lackText, sumTimes, timeText } from '../../../../renderer/places/nights/cover.ts'
import { Covers } from '../../../../renderer/places/nights/covers.svelte.ts'
import { Client } from '../../../../renderer/client/client.svelte.ts'
import { run, runs, tonight, verdict } from '../../support/night.ts'
import { FakeTransport, settled } from '../../support/transport.ts'

describe('a night', () => {
  test('tells hours by target and filter; what stands aside counts for nothing', () => {
    expect(coverOf(runs).times.map(timeText).map(plain)).toEqual([
      'Heart 1, dual-band: 4.3 h',
      'Veil, luminance: 44 min',
    ])
  })

  test('tells how many lights still lack a dark or a flat; a near one is there', () => {
    expect(coverOf(runs).lacks).toEqual([
      { need: 'dark', lights: 22, never: 0 },
      { need: 'flat', lights: 61, never: 0 },
    ])
    expect(plain(lackText(coverOf(runs))!)).toBe('22 lights without a dark; 61 lights without a flat')
  })

  test('says which can’t be made up any more', () => {
    const lost = run('x', {
      frames: 10,
      verdicts: { flat: { ...verdict('lost', ''), counts: { lost: 6, due: 4 } } },
    })
    expect(plain(lackText(coverOf([lost]))!)).toBe('10 lights without a flat, 6 of them for good')
  })

  test('says nothing where nothing lacks', () => {
    const whole = run('x', { verdicts: { dark: { ...verdict('matched', ''), counts: { matched: 37 } } } })
    expect(lackText(coverOf([whole]))).toBe(null)
  })
})

test('several nights of one target add up, the longest first', () => {
  const times = [
    { target: 'Veil', filter: null, lightS: 100 },
    { target: 'Heart 1', filter: 'dual-band', lightS: 150 },
    { target: 'Veil', filter: null, lightS: 100 },
  ]
  expect(sumTimes(times).map(({ target, lightS }) => [target, lightS])).toEqual([
    ['Veil', 200],
    ['Heart 1', 150],
  ])
})

test('nights are asked one at a time and once, and again when something changed', async () => {
  const transport = new FakeTransport({ tonight: () => tonight })
  const covers = new Covers(new Client(transport))
  covers.want(['2026-11-20', '2026-11-19'])
  expect(transport.asked.length).toBe(1)
  await settled()
  covers.want(['2026-11-20'])
  await settled()
  expect(transport.asked.map(({ input }) => input)).toEqual([{ night: '2026-11-20' }, { night: '2026-11-19' }])
  expect(covers.of('2026-11-20')?.lacks.length).toBe(2)
  covers.refresh()
  await settled()
  expect(transport.asked.length).toBe(4)
})

test('a storm of changes asks every shown night once now and once when it has calmed, and never after the page was left', async () => {
  vi.useFakeTimers()
  try {
    const transport = new FakeTransport({ tonight: () => tonight })
    const covers = new Covers(new Client(transport))
    covers.want(['2026-11-20', '2026-11-19'])
    await vi.advanceTimersByTimeAsync(0)
    for (let n = 0; n < 50; n++) {
      covers.refresh()
      await vi.advanceTimersByTimeAsync(100)
    }
    expect(transport.asked.length).toBe(4)
    await vi.advanceTimersByTimeAsync(15_000)
    expect(transport.asked.length).toBe(6)
    covers.refresh()
    covers.stop()
    await vi.advanceTimersByTimeAsync(60_000)
    expect(transport.asked.length).toBe(6)
  } finally {
    vi.useRealTimers()
  }
})
