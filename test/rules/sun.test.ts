import { describe, expect, it } from 'vitest'
import { sunTimes } from '../../main/rules/sun.ts'

/**
 * Computed with astropy 5.2.1 (get_sun, AltAz, every 10 s; −0.833° for rise and set, −12° and −18° without refraction), an independent
 * library. Greenwich in December agrees with the almanac as remembered: sunset 15:53, sunrise 08:04 UTC (from memory).
 */
const cases = [
  {
    place: 'a hill at 54.4° north, November',
    latDeg: 54.4,
    longDeg: -2.4,
    noon: '2026-11-20T12:10:00Z',
    times: ['2026-11-20T16:01:30Z', '2026-11-20T17:26:50Z', '2026-11-21T06:24:20Z', '2026-11-21T07:50:10Z'],
    darkest: ['2026-11-20T18:09:20Z', '2026-11-21T05:42:00Z'],
  },
  {
    place: 'Greenwich, December',
    latDeg: 51.4779,
    longDeg: 0,
    noon: '2026-12-21T12:00:00Z',
    times: ['2026-12-21T15:53:00Z', '2026-12-21T17:16:30Z', '2026-12-22T06:40:00Z', '2026-12-22T08:03:30Z'],
    darkest: ['2026-12-21T17:57:20Z', '2026-12-22T05:59:20Z'],
  },
  {
    place: 'Greenwich, June',
    latDeg: 51.4779,
    longDeg: 0,
    noon: '2026-06-21T12:00:00Z',
    times: ['2026-06-21T20:20:50Z', '2026-06-21T22:23:00Z', '2026-06-22T01:40:50Z', '2026-06-22T03:42:50Z'],
    darkest: [],
  },
  {
    place: 'a cape at 33.9° south, January',
    latDeg: -33.9,
    longDeg: 18.4,
    noon: '2026-01-15T10:46:00Z',
    times: ['2026-01-15T18:00:10Z', '2026-01-15T19:02:50Z', '2026-01-16T02:49:10Z', '2026-01-16T03:51:50Z'],
    darkest: ['2026-01-15T19:40:10Z', '2026-01-16T02:12:10Z'],
  },
]

describe('the Sun', () => {
  it.each(cases)('sets, leaves, comes back and rises on time: $place', ({ latDeg, longDeg, noon, times }) => {
    const { sunsetMs, duskMs, dawnMs, sunriseMs } = sunTimes({ latDeg, longDeg }, Date.parse(noon))
    const found = [sunsetMs, duskMs, dawnMs, sunriseMs].map((ms) => ms ?? NaN)
    times.forEach((time, i) => expect(Math.abs(found[i] - Date.parse(time)), time).toBeLessThan(60_000))
  })

  it.each(cases)('leaves the sky its darkest at 18° below, or never in a bright summer night: $place', (one) => {
    const { darkestFromMs, darkestToMs } = sunTimes(one, Date.parse(one.noon))
    const found = [darkestFromMs, darkestToMs].filter((ms) => ms !== null)
    expect(found).toHaveLength(one.darkest.length)
    one.darkest.forEach((time, i) => expect(Math.abs(found[i]! - Date.parse(time)), time).toBeLessThan(60_000))
  })

  it('never gets dark in a white night, and says so', () => {
    const { sunsetMs, duskMs, dawnMs, sunriseMs } = sunTimes(
      { latDeg: 60, longDeg: 0 },
      Date.parse('2026-06-21T12:00:00Z'),
    )
    expect([duskMs, dawnMs]).toEqual([null, null])
    expect(sunsetMs).not.toBeNull()
    expect(sunriseMs ?? 0).toBeGreaterThan(sunsetMs ?? Infinity)
  })

  it('does not set in a polar day', () =>
    expect(sunTimes({ latDeg: 75, longDeg: 20 }, Date.parse('2026-06-21T11:00:00Z')).sunsetMs).toBeNull())
})
