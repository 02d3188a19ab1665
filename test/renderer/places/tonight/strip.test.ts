import { expect, test } from 'vitest'
import * as strip from '../../../../renderer/places/tonight/strip.ts'
import { run, runs, tonight } from '../../support/night.ts'

const at = (iso: string) => Date.parse(`2026-11-${iso}:00Z`)

test('with a site the axis runs from sunset to sunrise', () => {
  expect(strip.axisOf(tonight, null)).toEqual({ from: at('20T15:58'), to: at('21T07:48') })
})

test('what was shot before sunset is not cut off', () => {
  const early = run('early', { firstAt: '2026-11-20T15:30:00Z', lastAt: '2026-11-20T15:40:00Z' })
  expect(strip.axisOf({ ...tonight, runs: [...runs, early] }, null)!.from).toBe(at('20T15:30'))
})

test('darks taken by day do not stretch the night', () => {
  const darks = run('darks', { kind: 'dark', firstAt: '2026-11-21T10:00:00Z', lastAt: '2026-11-21T11:00:00Z' })
  expect(strip.axisOf({ ...tonight, runs: [...runs, darks] }, null)!.to).toBe(at('21T07:48'))
  expect(strip.lanesOf([darks], strip.axisOf(tonight, null)!)).toEqual([])
})

test('without a site the frames make the axis: half an hour before and after, at least six hours', () => {
  const one = run('one', { firstAt: '2026-11-20T20:00:00Z', lastAt: '2026-11-20T20:55:00Z', exposureS: 300 })
  expect(strip.axisOf({ runs: [one], sun: null }, null)).toEqual({ from: at('20T19:30'), to: at('21T01:30') })
  const long = run('long', { firstAt: '2026-11-20T20:00:00Z', lastAt: '2026-11-21T03:55:00Z', exposureS: 300 })
  expect(strip.axisOf({ runs: [long], sun: null }, null)!.to).toBe(at('21T04:30'))
  expect(strip.axisOf({ runs: [long], sun: null }, at('21T05:00'))!.to).toBe(at('21T05:30'))
  expect(strip.axisOf({ runs: [], sun: null }, at('21T05:00'))).toBeNull()
})

test('a bar reaches from the first frame’s start to the last one’s end', () => {
  const axis = { from: at('20T20:00'), to: at('21T00:00') }
  const half = run('half', { firstAt: '2026-11-20T21:00:00Z', lastAt: '2026-11-20T22:55:00Z', exposureS: 300 })
  expect(strip.lanesOf([half], axis)).toMatchObject([{ from: at('20T21:00'), to: at('20T23:00') }])
  expect(strip.percentAt(axis, at('20T21:00'))).toBe(25)
  expect(strip.percentAt(axis, at('20T23:00'))).toBe(75)
})

test('lights have the first lanes, aside frames none', () => {
  const axis = strip.axisOf(tonight, null)!
  const flats = run('flats', { kind: 'flat', firstAt: '2026-11-20T16:10:00Z', lastAt: '2026-11-20T16:20:00Z' })
  expect(strip.lanesOf([flats, ...runs], axis).map(({ run }) => run.id)).toEqual(['a', 'b', 'c', 'flats'])
})

test('hours stand as close as there is room for their labels', () => {
  const axis = { from: at('20T16:00'), to: at('21T08:00') }
  expect(strip.ticksOf(axis, 1200)).toHaveLength(17)
  const few = strip.ticksOf(axis, 320)
  expect(few.length).toBeLessThanOrEqual(6)
  expect(few.length).toBeGreaterThanOrEqual(3)
})

test('zoomed in, the ticks part the hours', () => {
  const axis = { from: at('20T21:05'), to: at('20T21:35') }
  expect(strip.ticksOf(axis, 900)).toEqual(
    ['05', '10', '15', '20', '25', '30', '35'].map((minute) => at(`20T21:${minute}`)),
  )
})

test('lanes stand rig by rig; aside frames share one of their own, and runs without times are left to the table', () => {
  const axis = strip.axisOf(tonight, null)!
  const roof = run('roof', { rig: 'Annexe', firstAt: '2026-11-20T23:00:00Z', lastAt: '2026-11-20T23:30:00Z' })
  const untimed = run('untimed', { firstAt: null, lastAt: null })
  const all = [...runs, roof, untimed]
  expect(strip.lanesOf(all, axis).map(({ run }) => run.id)).toEqual(['roof', 'a', 'b', 'c'])
  expect(strip.asideOf(all, axis).map(({ id }) => id)).toEqual(['d'])
  expect(strip.untimedOf(all).map(({ id }) => id)).toEqual(['untimed'])
})

test('a train change that was taken back, or happened outside the night, is not drawn', () => {
  const axis = strip.axisOf(tonight, null)!
  const [change] = tonight.changes
  expect(strip.standingChanges(tonight.changes, axis)).toHaveLength(1)
  expect(strip.standingChanges([{ ...change!, undoneAt: '2026-11-20T20:00:00Z' }], axis)).toEqual([])
  expect(strip.standingChanges([{ ...change!, at: '2026-11-19T20:00:00Z' }], axis)).toEqual([])
})
