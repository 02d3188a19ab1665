import { expect, test } from 'vitest'
import { RateLimit } from '../../../main/host/headless/rate.ts'

test('a burst is allowed at once, then one for each part of a second that passes', () => {
  let nowMs = 0
  const limit = new RateLimit({ perS: 4, burst: 3 }, () => nowMs)
  const tries = (count: number) => Array.from({ length: count }, () => limit.allows())
  expect(tries(4)).toEqual([true, true, true, false])
  nowMs = 249
  expect(tries(1)).toEqual([false])
  nowMs = 250
  expect(tries(2)).toEqual([true, false])
  nowMs = 60_000
  expect(tries(4)).toEqual([true, true, true, false])
})
