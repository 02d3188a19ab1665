import { expect, test } from 'vitest'
import { StripView, moved, revealing, zoomed } from '../../../../renderer/places/tonight/strip-view.svelte.ts'

const MINUTE = 60_000
const axis = { from: 0, to: 600 * MINUTE }
const minutes = ({ from, to }: { from: number; to: number }) => [Math.round(from / MINUTE), Math.round(to / MINUTE)]

test('the instant under the pointer keeps its place while zooming', () => {
  expect(minutes(zoomed(axis, axis, 2, 300 * MINUTE))).toEqual([150, 450])
  expect(minutes(zoomed({ from: 150 * MINUTE, to: 450 * MINUTE }, axis, 2, 225 * MINUTE))).toEqual([188, 338])
})

test('nothing beyond the night is shown, however one zooms or moves', () => {
  expect(minutes(zoomed({ from: 0, to: 100 * MINUTE }, axis, 0.5, 0))).toEqual([0, 200])
  expect(minutes(zoomed({ from: 500 * MINUTE, to: 600 * MINUTE }, axis, 0.1, 500 * MINUTE))).toEqual([0, 600])
  expect(minutes(moved({ from: 0, to: 100 * MINUTE }, axis, -MINUTE))).toEqual([0, 100])
  expect(minutes(moved({ from: 450 * MINUTE, to: 550 * MINUTE }, axis, 100 * MINUTE))).toEqual([500, 600])
})

test('ten minutes are the closest view', () => {
  expect(minutes(zoomed(axis, axis, 1e6, 300 * MINUTE))).toEqual([295, 305])
})

test('a run outside the view comes into it by as little as needed; a long one by its beginning', () => {
  const view = { from: 100 * MINUTE, to: 200 * MINUTE }
  expect(minutes(revealing(view, axis, { from: 250 * MINUTE, to: 260 * MINUTE }))).toEqual([160, 260])
  expect(minutes(revealing(view, axis, { from: 20 * MINUTE, to: 60 * MINUTE }))).toEqual([20, 120])
  expect(minutes(revealing(view, axis, { from: 150 * MINUTE, to: 400 * MINUTE }))).toEqual([150, 250])
  expect(revealing(view, axis, { from: 120 * MINUTE, to: 150 * MINUTE })).toBe(view)
})

test('plus, minus and 0 zoom, arrows move, other keys are left alone', () => {
  const view = new StripView(() => axis)
  expect(view.isWhole).toBe(true)
  expect(view.press('+')).toBe(true)
  expect(view.isWhole).toBe(false)
  const before = view.now
  view.press('ArrowRight')
  expect(view.now.from).toBeGreaterThan(before.from)
  view.press('ArrowLeft')
  expect(minutes(view.now)).toEqual(minutes(before))
  view.press('-')
  expect(view.isWhole).toBe(true)
  view.press('+')
  view.press('0')
  expect(view.isWhole).toBe(true)
  expect(view.press('x')).toBe(false)
})

test('the whole night is the axis itself; a chosen part stays where it is, pushed back into the night', () => {
  const view = new StripView(() => axis)
  expect(view.now).toBe(axis)
  view.zoom(2)
  expect(minutes(view.now)).toEqual([150, 450])
  view.reveal({ from: 500 * MINUTE, to: 550 * MINUTE })
  expect(minutes(view.now)).toEqual([250, 550])
  view.pan(1)
  expect(minutes(view.now)).toEqual([300, 600])
})
