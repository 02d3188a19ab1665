import { describe, expect, test } from 'vitest'
import { nightBounds, nightOf } from '../../main/frame/night.ts'
import { describeCards } from './facts.ts'

const utc = (stamp: string) => Date.parse(`${stamp}Z`)
const inZone = (stamp: string, zone: string) => nightOf({ atMs: utc(stamp), zone })

// Zone rules are those of the IANA time zone database, as Node's ICU carries it.
describe('a night runs from local noon to local noon', () => {
  test.each([
    ['2026-11-20T10:59:59', 'Europe/Zurich', '2026-11-19'],
    ['2026-11-20T11:00:00', 'Europe/Zurich', '2026-11-20'],
    ['2026-11-21T10:59:59', 'Europe/Zurich', '2026-11-20'],
    ['2026-11-20T23:59:59', 'UTC', '2026-11-20'],
    ['2026-11-21T00:00:00', 'UTC', '2026-11-20'],
    ['2026-12-31T23:30:00', 'UTC', '2026-12-31'],
    ['2027-01-01T03:00:00', 'UTC', '2026-12-31'],
  ])('%s in %s is the night of %s', (stamp, zone, night) => {
    expect(inZone(stamp, zone)).toBe(night)
  })

  test.each([
    // Clocks forward on 29 March 2026 at 01:00 UTC (CET to CEST), back on 25 October at 01:00 UTC.
    ['the noon before the night in which they go forward', '2026-03-28T11:00:00', '2026-03-28'],
    ['the noon after it comes an hour sooner', '2026-03-29T09:59:59', '2026-03-28'],
    ['and belongs to the next night', '2026-03-29T10:00:00', '2026-03-29'],
    ['the noon before the night in which they go back', '2026-10-24T10:00:00', '2026-10-24'],
    ['the noon after it comes an hour later', '2026-10-25T10:59:59', '2026-10-24'],
    ['and belongs to the next night too', '2026-10-25T11:00:00', '2026-10-25'],
  ])('when clocks change: %s', (_what, stamp, night) => {
    expect(inZone(stamp, 'Europe/Zurich')).toBe(night)
  })

  test('on both sides of the date line', () => {
    // 22:00 on the 20th in Auckland (+13) and in Apia (+13), 22:00 on the 19th in Pago Pago (−11): one and the same instant.
    expect(inZone('2026-11-20T09:00:00', 'Pacific/Auckland')).toBe('2026-11-20')
    expect(inZone('2026-11-20T09:00:00', 'Pacific/Apia')).toBe('2026-11-20')
    expect(inZone('2026-11-20T09:00:00', 'Pacific/Pago_Pago')).toBe('2026-11-19')
  })

  test('a zone that does not exist counts as UTC', () => {
    expect(inZone('2026-11-21T11:59:00', 'Nowhere/Land')).toBe('2026-11-20')
  })
})

describe('where local noon is', () => {
  const evening = { atMs: utc('2026-11-21T03:00:00'), zone: 'UTC' }

  test('the site’s longitude comes before the zone', () => {
    // 18:30 UTC is 12:04 by the mean Sun at 96.5° west.
    expect(nightOf({ atMs: utc('2026-11-20T18:30:00'), siteLongDeg: -96.5, zone: 'UTC' })).toBe('2026-11-20')
    expect(nightOf({ atMs: utc('2026-11-20T18:20:00'), siteLongDeg: -96.5, zone: 'UTC' })).toBe('2026-11-19')
  })

  test('local time in the header comes before both', () => {
    const localMs = utc('2026-11-20T22:00:00')
    expect(nightOf({ ...evening, localMs, siteLongDeg: -75 })).toBe('2026-11-20')
  })

  test('a computer left on UTC far from Greenwich does not cut the night in two', () => {
    // At 150° east noon UTC is 22:00: by the wall clock the night would end in the middle.
    const stamps = ['2026-11-20T11:30:00', '2026-11-20T12:30:00', '2026-11-20T18:00:00'].map(utc)
    const nights = stamps.map((atMs) => nightOf({ atMs, localMs: atMs, siteLongDeg: 150, zone: 'UTC' }))
    expect(nights).toEqual(['2026-11-20', '2026-11-20', '2026-11-20'])
  })

  test('a local time that cannot be one is passed over', () => {
    expect(nightOf({ ...evening, localMs: utc('2026-12-25T00:00:00') })).toBe('2026-11-20')
  })

  test('where the date line is bent, the zone says on which side the clocks are', () => {
    // Kiritimati: 157.4° west, clocks at +14. 08:00 UTC on the 20th is 22:00 on the 20th there, 21:30 on the 19th by the Sun.
    const at = { atMs: utc('2026-11-20T08:00:00'), siteLongDeg: -157.4 }
    expect(nightOf({ ...at, zone: 'Pacific/Kiritimati' })).toBe('2026-11-20')
    expect(nightOf({ ...at, zone: 'Pacific/Honolulu' })).toBe('2026-11-19')
  })

  test('a remote site is judged by its own Sun, not by the zone of the computer', () => {
    // Chile from a desk in Sydney: 03:00 UTC is 22:20 on the 20th by the Sun at 70° west.
    expect(nightOf({ atMs: utc('2026-11-21T03:00:00'), siteLongDeg: -70, zone: 'Australia/Sydney' })).toBe('2026-11-20')
  })
})

test('bounds of a night are its noons, 23 or 25 hours apart when clocks change', () => {
  const hours = (night: string) => {
    const { beginsMs, endsMs } = nightBounds(night, { zone: 'Europe/Zurich' })
    expect(nightOf({ atMs: beginsMs, zone: 'Europe/Zurich' })).toBe(night)
    expect(nightOf({ atMs: endsMs - 1, zone: 'Europe/Zurich' })).toBe(night)
    expect(nightOf({ atMs: endsMs, zone: 'Europe/Zurich' })).not.toBe(night)
    return (endsMs - beginsMs) / 3_600_000
  }
  expect(['2026-11-20', '2026-03-28', '2026-10-24'].map(hours)).toEqual([24, 23, 25])
})

test('a frame without a date belongs to the night of its file’s last modification, at its own site', () => {
  const mtimeMs = utc('2026-11-20T18:20:00')
  expect(describeCards({}, { mtimeMs }).night).toBe('2026-11-20')
  expect(describeCards({ SITELAT: 46.9, SITELONG: -96.5 }, { mtimeMs }).night).toBe('2026-11-19')
})

test('a date without a time takes the file’s night where that fits, else its own day', () => {
  expect(describeCards({ 'DATE-OBS': '2026-11-21' }, { mtimeMs: utc('2026-11-21T03:00:00') }).night).toBe('2026-11-20')
  expect(describeCards({ 'DATE-OBS': '2013-07-13' }, { mtimeMs: utc('2026-11-21T03:00:00') }).night).toBe('2013-07-13')
})
